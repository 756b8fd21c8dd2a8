package web

import (
	"errors"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"lotbook/api/auth"
	"lotbook/inventory/account"
)

type signInPage struct {
	Frame
	Next string
	User string
	// Problem says why nobody was signed in.
	Problem string
	// Lost is what was sent after the session had ended and was not
	// recorded, in words; empty if nothing was.
	Lost string
}

func (p *Pages) signInPage(c *gin.Context) error {
	page := &signInPage{Frame: p.frame(c, "Sign in", ""), Next: auth.SafeNext(c.Query("next"))}
	if n, _ := strconv.Atoi(c.Query("lost")); n > 1 {
		page.Lost = "The last " + itoa(n) + " scans were not recorded. Sign in and scan them again."
	} else if n == 1 {
		page.Lost = "What you sent last was not recorded. Sign in and enter it again."
	}
	c.Header("Cache-Control", "no-store")
	return show(c, http.StatusOK, p.views.signIn, page)
}

func (p *Pages) signIn(c *gin.Context) error {
	next := auth.SafeNext(c.PostForm("next"))
	page := &signInPage{Frame: p.frame(c, "Sign in", ""), Next: next, User: c.PostForm("user")}
	_, err := p.Auth.SignIn(c, page.User, c.PostForm("password"))
	status := http.StatusUnprocessableEntity
	switch {
	case err == nil:
		see(c, next)
		return nil
	case errors.Is(err, account.ErrBadCredentials):
		page.Problem = "User and password do not belong together. Check both, and whether Caps Lock is on."
	case errors.Is(err, account.ErrInactive):
		page.Problem = "This user is switched off. Ask an administrator."
	case errors.Is(err, account.ErrBusy):
		status, page.Problem = http.StatusServiceUnavailable, "Many people are signing in at this moment. Try again in a few seconds."
	default:
		return err
	}
	c.Header("Cache-Control", "no-store")
	return show(c, status, p.views.signIn, page)
}

func (p *Pages) signOut(c *gin.Context) error {
	if err := p.Auth.SignOut(c); err != nil {
		return err
	}
	see(c, "/sign-in")
	return nil
}
