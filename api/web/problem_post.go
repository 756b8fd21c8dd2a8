package web

import (
	"crypto/sha256"
	"errors"
	"io"
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/api/reading"
	"lotbook/inventory"
	"lotbook/trace"
)

// postForm reads a form, with files or without.
func postForm(c *gin.Context) (url.Values, error) {
	if err := c.Request.ParseMultipartForm(4 << 20); err != nil && !errors.Is(err, http.ErrNotMultipart) {
		if large := (*http.MaxBytesError)(nil); errors.As(err, &large) {
			return nil, err
		}
		return nil, inventory.Invalid("form", "Load the page again and send it once more.", "the form did not arrive whole")
	}
	return c.Request.PostForm, nil
}

// problemPost takes the forms of a problem's page; the field "action" says which.
func (p *Pages) problemPost(c *gin.Context) error {
	id, err := identity(c)
	if err != nil {
		return err
	}
	v, err := postForm(c)
	if err != nil {
		return err
	}
	call := id.Call(v.Get("key"))
	switch action := v.Get("action"); action {
	case "say":
		err = p.problemSay(c, call, v)
	case "picture":
		err = p.problemAddPicture(c, call, v)
	case "strike":
		err = p.problemStrike(c, call, v)
	default:
		err = inventory.Invalid("action", "Load the page again.", "there is no form %q", action)
	}
	var refusal *inventory.Refusal
	if errors.As(err, &refusal) && !errors.Is(err, inventory.ErrNotFound) {
		return p.showProblem(c, http.StatusUnprocessableEntity, &problemPage{Problem: troubleOf(refusal), Said: v.Get("words")})
	}
	if err != nil {
		return err
	}
	see(c, problemURL(problemID(c)))
	return nil
}

// problemSay records a follow-up: what was entered and is not on record as it
// stands.
func (p *Pages) problemSay(c *gin.Context, call inventory.Call, v url.Values) error {
	var x *trace.Problem
	err := p.Book.View(c.Request.Context(), func(r inventory.Reader) (err error) {
		x, err = trace.ProblemByID(r, problemID(c))
		return err
	})
	if err != nil {
		return err
	}
	fresh := func(name, was string) string {
		if s := strings.TrimSpace(v.Get(name)); s != was {
			return s
		}
		return ""
	}
	f := trace.ProblemFacts{
		Words: v.Get("words"), Done: v.Get("done"), Kept: trace.Kept(fresh("kept", string(x.Kept))), KeptWhere: fresh("kept_where", x.KeptWhere),
		Product: inventory.ProductID(fresh("product", string(x.Product))), Lot: fresh("lot", x.Lot), Serial: fresh("serial", x.Serial),
		Expires: inventory.Date(dateTyped(v.Get("expires"))),
	}
	switch {
	case f.Product != "" || f.Lot != "": // of another item the whole is said
		f.Serial = strings.TrimSpace(v.Get("serial"))
	case f.Expires == x.Expires:
		f.Expires = ""
	}
	if !same(v["seen"], x.Seen) {
		f.Seen = v["seen"]
	}
	var outcomes []trace.Outcome
	for _, o := range v["outcome"] {
		outcomes = append(outcomes, trace.Outcome(o))
	}
	if !same(outcomes, x.Outcomes) {
		f.Outcomes = outcomes
	}
	for _, d := range trace.ProblemDetails() {
		if s := fresh("detail_"+d.Key, x.Details[d.Key]); s != "" {
			if f.Details == nil {
				f.Details = map[string]string{}
			}
			f.Details[d.Key] = s
		}
	}
	_, err = p.Book.FollowProblem(c.Request.Context(), call, trace.FollowUp{Problem: x.ID, ProblemFacts: f})
	return err
}

// same reports whether two lists have the same members.
func same[S ~string](a, b []S) bool {
	in := map[S]int{}
	for _, s := range a {
		in[s] |= 1
	}
	for _, s := range b {
		in[s] |= 2
	}
	for _, n := range in {
		if n != 3 {
			return false
		}
	}
	return true
}

// problemAddPicture keeps a picture.
func (p *Pages) problemAddPicture(c *gin.Context, call inventory.Call, v url.Values) error {
	file, _, err := c.Request.FormFile("picture")
	if err != nil {
		return inventory.Invalid("picture", "Take a picture of the item, or choose one.", "there is no picture")
	}
	defer func() { _ = file.Close() }()
	pic, err := io.ReadAll(file)
	if err != nil {
		return err
	}
	ctx := c.Request.Context()
	select {
	case p.pictures <- struct{}{}:
		defer func() { <-p.pictures }()
	case <-ctx.Done():
		return problem.Busy("Other pictures are being read.")
	}
	kept, f, err := reading.Keep(ctx, pic, p.Picture, trace.MostPictureBytes)
	switch {
	case err != nil:
		return err
	case f != nil:
		return inventory.Invalid("picture", "Take it again, and send a JPEG, PNG or WebP picture.", "%s", f.Message)
	}
	_, err = p.Book.PictureProblem(ctx, call, trace.Picturing{
		Problem: problemID(c), About: v.Get("about"), Sum: sha256.Sum256(pic), JPEG: kept.JPEG, Width: kept.Width, Height: kept.Height,
	})
	return err
}

// problemStrike strikes out an entry of this problem.
func (p *Pages) problemStrike(c *gin.Context, call inventory.Call, v url.Values) error {
	f := &setupForm{value: v}
	seq, err := f.number("entry")
	if err != nil {
		return err
	}
	err = p.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		ev, err := p.event(r, seq)
		if err != nil {
			return err
		}
		own := false
		switch ev := ev.(type) {
		case *trace.ProblemReported:
			own = ev.Problem == problemID(c)
		case *trace.ProblemFollowed:
			own = ev.Problem == problemID(c)
		case *trace.ProblemPictured:
			own = ev.Problem == problemID(c)
		}
		if !own {
			return inventory.Invalid("entry", "Choose an entry of this problem.", "entry %d is not one of this problem", seq)
		}
		return nil
	})
	if err != nil {
		return err
	}
	_, err = p.Book.Correct(c.Request.Context(), call, seq, strings.TrimSpace(v.Get("reason")))
	return err
}
