package web

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"net/http"

	"github.com/gin-gonic/gin"
	"github.com/jba/templatecheck"
)

//go:embed templates
var templateFiles embed.FS

// views are the templates, each checked against the struct of its page.
type views struct {
	signIn         *templatecheck.CheckedTemplate[*signInPage]
	home           *templatecheck.CheckedTemplate[*homePage]
	setupList      *templatecheck.CheckedTemplate[*setupListPage]
	setup          *templatecheck.CheckedTemplate[*setupPage]
	lots           *templatecheck.CheckedTemplate[*lotsPage]
	notices        *templatecheck.CheckedTemplate[*noticesPage]
	notice         *templatecheck.CheckedTemplate[*noticePage]
	evidence       *templatecheck.CheckedTemplate[*evidencePage]
	leftOut        *templatecheck.CheckedTemplate[*leftOutPage]
	reconciliation *templatecheck.CheckedTemplate[*reconciliationPage]
	problems       *templatecheck.CheckedTemplate[*problemsPage]
	problem        *templatecheck.CheckedTemplate[*problemPage]
	draft          *templatecheck.CheckedTemplate[*draftPage]
	scanners       *templatecheck.CheckedTemplate[*scannersPage]
	failure        *templatecheck.CheckedTemplate[*failurePage]
}

func loadViews() (*views, error) {
	v := new(views)
	for _, err := range []error{
		load(&v.signIn, "sign_in.html"),
		load(&v.home, "home.html"),
		load(&v.setupList, "setup_list.html"),
		load(&v.setup, "setup.html", "setup_scan.html", "setup_needs.html", "setup_close.html"),
		load(&v.lots, "lots.html", "lots_answer.html", "figures.html"),
		load(&v.notices, "notices.html"),
		load(&v.notice, "notice.html", "figures.html"),
		load(&v.evidence, "lot_evidence.html"),
		load(&v.leftOut, "lot_leftout.html"),
		load(&v.reconciliation, "reconciliation.html"),
		load(&v.problems, "problems.html"),
		load(&v.problem, "problem.html"),
		load(&v.draft, "problem_draft.html"),
		load(&v.scanners, "scanners.html"),
		load(&v.failure, "failure.html"),
	} {
		if err != nil {
			return nil, err
		}
	}
	return v, nil
}

// load parses the layout with the files of a page, which define "main".
func load[T any](into **templatecheck.CheckedTemplate[T], files ...string) error {
	paths := []string{"templates/layout.html", "templates/signs.html"}
	for _, f := range files {
		paths = append(paths, "templates/"+f)
	}
	t, err := template.New("layout.html").ParseFS(templateFiles, paths...)
	if err != nil {
		return fmt.Errorf("web: %w", err)
	}
	if *into, err = templatecheck.NewChecked[T](t); err != nil {
		return fmt.Errorf("web: %s does not fit its struct: %w", files[0], err)
	}
	return nil
}

// show renders a page into a buffer, then writes it.
func show[T any](c *gin.Context, status int, t *templatecheck.CheckedTemplate[T], page T) error {
	var b bytes.Buffer
	if err := t.Execute(&b, page); err != nil {
		return fmt.Errorf("render %s: %w", c.FullPath(), err)
	}
	secure(c)
	c.Data(status, "text/html; charset=utf-8", b.Bytes())
	return nil
}

// secure sets the headers that the pages need stricter, or otherwise, than the
// rest of the service. There is no inline script or style anywhere (Content
// Security Policy Level 3). With no referrer at all a browser would send a form
// with "Origin: null", which where there is no Sec-Fetch-Site header (plain HTTP
// in a local network) can't be told from another site's form.
func secure(c *gin.Context) {
	h := c.Writer.Header()
	h.Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "+
		"form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
	h.Set("Referrer-Policy", "same-origin")
}

// see sends the browser to a page after something was written.
func see(c *gin.Context, url string) {
	secure(c)
	c.Redirect(http.StatusSeeOther, url)
}
