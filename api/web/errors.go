package web

import (
	"log/slog"
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"lotbook/api/auth"
	"lotbook/api/problem"
	"lotbook/inventory/account"
)

// A failurePage says what happened and what to do.
type failurePage struct {
	Frame
	Status int
	Lead   string // what happened
	Do     string // what to do
	ID     string // of the request, when something went wrong inside
	Back   string
	// SignOut offers to sign in as somebody else.
	SignOut bool
}

// failed answers for a handler that returned an error.
func (p *Pages) failed(c *gin.Context, err error) {
	ctx := c.Request.Context()
	pr := problem.Of(err)
	pr.RequestID = problem.ID(ctx)
	if pr.Status >= http.StatusInternalServerError {
		p.Log.ErrorContext(ctx, "page failed", slog.String("request", pr.RequestID), slog.String("route", c.FullPath()),
			slog.String("code", pr.Code), slog.String("error", err.Error()))
	}
	p.Fail(c, pr)
}

// Fail answers a request that could not be done: with the way to the sign-in
// page, or with a page that says what happened and what to do. The router uses
// it as well, for what it or the guard refuses.
func (p *Pages) Fail(c *gin.Context, pr problem.Problem) {
	if pr.Code == "not_signed_in" {
		to := auth.SignInURL(c.Request)
		if c.Request.Method != http.MethodGet && c.Request.Method != http.MethodHead {
			v := url.Values{"lost": {"1"}}
			if strings.HasPrefix(c.FullPath(), "/setup") { // a page of that address is there
				v.Set("next", auth.SafeNext(c.Request.URL.EscapedPath()))
			}
			to += "?" + v.Encode()
		}
		see(c, to)
		return
	}
	page := &failurePage{Status: pr.Status, Lead: pr.Detail, Do: pr.Hint, Back: "/"}
	title := titleOf(pr.Status)
	switch pr.Code {
	case "no_route", "method_not_allowed":
		page.Lead, page.Do = "There is no page at this address.", "Check the address, or start again from the first page."
	case "forbidden":
		page.SignOut = true
		page.Lead, page.Do = p.forbidden(c)
	case "key_reused":
		title = "Sent before"
		page.Lead = "This form was sent before, with something else in it. The first stands; nothing further was recorded."
		page.Do = "Go back to the page, look at what is recorded, then enter what is missing."
	case "unknown_outcome":
		title = "Not sure that it was written"
		page.Lead = "Writing was interrupted, and it is not known whether this was recorded."
		page.Do = "Go on, and look whether it is there. If it is not, enter it again."
	case "store_failed":
		title = "Nothing can be written now"
		page.Lead = "The book takes no more entries until the service is started again. Reading still works."
		page.Do = "Write on paper what happens, and tell whoever runs the service."
	case "timeout", "canceled":
		page.Do = "Try again in a moment."
	}
	if pr.Status >= http.StatusInternalServerError {
		page.ID = pr.RequestID
	}
	if id := c.Param("id"); id != "" && pr.Status != http.StatusNotFound && pr.Status != http.StatusForbidden && strings.HasPrefix(c.FullPath(), "/setup/") {
		page.Back = "/setup/" + id // as it stands in the address
	}
	page.Frame = p.frame(c, title, "")
	c.Header("Cache-Control", "no-store")
	if err := show(c, pr.Status, p.views.failure, page); err != nil {
		p.Log.ErrorContext(c.Request.Context(), "the page of a failure failed", slog.String("error", err.Error()))
		c.String(http.StatusInternalServerError, page.Lead+" "+page.Do+"\n")
	}
}

func titleOf(status int) string {
	switch status {
	case http.StatusNotFound, http.StatusMethodNotAllowed:
		return "Not found"
	case http.StatusForbidden:
		return "Not for this role"
	case http.StatusUnauthorized:
		return "Not signed in"
	case http.StatusRequestEntityTooLarge:
		return "Too large"
	case http.StatusConflict, http.StatusUnprocessableEntity:
		return "Not recorded"
	case http.StatusServiceUnavailable:
		return "Not at this moment"
	}
	if status >= http.StatusInternalServerError {
		return "Something went wrong here"
	}
	return "Not understood"
}

// forbidden says who may use what somebody was refused.
func (p *Pages) forbidden(c *gin.Context) (lead, do string) {
	var who []string
	for _, r := range account.Roles() {
		if p.Auth.May(r, c.Request.Method+" "+c.FullPath()) {
			who = append(who, string(r))
		}
	}
	if len(who) == 0 {
		return "Nobody may use this.", "Start again from the first page."
	}
	return "This page is for the role " + strings.Join(who, " or ") + ".", "Sign in as somebody with that role, or ask an administrator for it."
}

// sentence writes a message of the domain as a sentence.
func sentence(s string) string {
	if s == "" {
		return s
	}
	s = strings.ToUpper(s[:1]) + s[1:]
	if !strings.HasSuffix(s, ".") {
		s += "."
	}
	return s
}
