package api

import (
	"errors"
	"log/slog"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/api/auth"
	"lotbook/api/problem"
	"lotbook/inventory/account"
	"lotbook/scanner/wedge"
	"lotbook/trace"
)

// Deps are what the service works with.
type Deps struct {
	Book     *trace.Book
	Accounts *account.Accounts
	Log      *slog.Logger
	// Version of the program, as /health tells it.
	Version string
	// TempDir is the folder, inside the data folder, for a workbook's
	// temporary files.
	TempDir string
	Auth    auth.Settings
	// Scanner is what the unit's keyboard scanners do to text.
	Scanner wedge.Profile
	Limits  Limits
	// Pages makes the pages beside the API, nil for none. It gets the guard
	// for signing in and out.
	Pages func(*auth.Auth) (Pages, error)
}

// Pages are what package web adds to the router.
type Pages interface {
	// Register adds the routes. The guard and all other middleware are in
	// place. Parameters in a path are as they stand in the address:
	// url.PathUnescape undoes that.
	Register(r gin.IRouter)
	// Fail answers a request for a page with a problem: one that was not
	// passed on (nobody signed in, not allowed, no such page) or whose
	// handler panicked.
	Fail(c *gin.Context, p problem.Problem)
}

// Limits bound what a single request may take. The zero value stands for
// DefaultLimits.
type Limits struct {
	// Body is the most bytes of a request, Picture of one that may carry a
	// picture.
	Body, Picture int64
	// Time is how long a request may take, Workbook one that answers with a
	// workbook.
	Time, Workbook time.Duration
	// PicturePixels is the largest picture, PictureTime how long reading one
	// may take, PicturesAtOnce how many are read at the same time.
	PicturePixels  int
	PictureTime    time.Duration
	PicturesAtOnce int
}

// DefaultLimits returns the limits for a unit's server. A picture of 25
// megapixels is more than a tablet's camera makes by default (from memory), and
// takes some 100 MB while it is decoded.
func DefaultLimits() Limits {
	return Limits{
		Body: 1 << 20, Picture: 20 << 20,
		Time: 30 * time.Second, Workbook: 10 * time.Minute,
		PicturePixels: 25_000_000, PictureTime: 3 * time.Second, PicturesAtOnce: 2,
	}
}

func (d Deps) filled() (Deps, error) {
	switch {
	case d.Book == nil:
		return d, errors.New("api: Deps.Book is missing")
	case d.Accounts == nil:
		return d, errors.New("api: Deps.Accounts is missing")
	case d.TempDir == "":
		return d, errors.New("api: Deps.TempDir is missing")
	}
	if d.Log == nil {
		d.Log = slog.New(slog.DiscardHandler)
	}
	if d.Limits == (Limits{}) {
		d.Limits = DefaultLimits()
	}
	return d, nil
}
