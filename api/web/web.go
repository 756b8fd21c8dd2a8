package web

import (
	"errors"
	"io"
	"log/slog"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/api/auth"
	"lotbook/scanner"
	"lotbook/scanner/picture"
	"lotbook/scanner/wedge"
	"lotbook/trace"
)

// Deps are what the pages work with. Book, Auth and TempDir must be set.
type Deps struct {
	Book *trace.Book
	Auth *auth.Auth
	// TempDir is a folder for the temporary files of workbooks, inside the
	// data folder.
	TempDir string
	// Version is shown at the foot of each page and put into workbooks.
	Version string
	// Demo says on every page that the unit is invented.
	Demo bool
	// Scanner is what the unit's keyboard scanners do to text.
	Scanner wedge.Profile
	// JoinWithin is how long after one code of a pack another is taken for
	// the same pack's; 0 means without limit.
	JoinWithin time.Duration
	// Picture limits the work on one picture.
	Picture picture.Options
	// Log takes what goes wrong inside; nil for none.
	Log *slog.Logger
}

// Pages is the handlers of all pages.
type Pages struct {
	Deps
	assets *assets
	views  *views
	// pictures holds a place for each picture that is read at this moment:
	// a decoded one takes some 100 MB.
	pictures chan struct{}
}

// picturesAtOnce is how many pictures are read at the same time.
const picturesAtOnce = 2

// New returns the pages. It fails if a template does not fit its struct.
func New(d Deps) (*Pages, error) {
	if d.Book == nil || d.Auth == nil || d.TempDir == "" {
		return nil, errors.New("web: Deps need a Book, an Auth and a TempDir")
	}
	if d.Log == nil {
		d.Log = slog.New(slog.NewTextHandler(io.Discard, nil))
	}
	a, err := loadAssets()
	if err != nil {
		return nil, err
	}
	v, err := loadViews()
	if err != nil {
		return nil, err
	}
	return &Pages{d, a, v, make(chan struct{}, picturesAtOnce)}, nil
}

// Register adds the pages' routes. Auth.Guard must come before them.
func (p *Pages) Register(r gin.IRouter) {
	r.GET("/assets/*path", p.assets.serve)
	for _, route := range []struct {
		method, pattern string
		h               handler
	}{
		{"GET", "/sign-in", p.signInPage},
		{"POST", "/sign-in", p.signIn},
		{"POST", "/sign-out", p.signOut},
		{"GET", "/", p.home},
		{"GET", "/setup", p.setupList},
		{"POST", "/setup", p.setupOpen},
		{"GET", "/setup/:id", p.setup},
		{"POST", "/setup/:id", p.setupPost},
		{"GET", "/lots", p.lots},
		{"GET", "/lots.xlsx", p.lotsWorkbook},
		{"GET", "/notices", p.notices},
		{"GET", "/notices/:id", p.notice},
		{"POST", "/notices/:id", p.noticePost},
		{"GET", "/lots/evidence", p.lotEvidence},
		{"GET", "/lots/left-out", p.lotLeftOut},
		{"GET", "/problems", p.problems},
		{"POST", "/problems", p.problemsPost},
		{"GET", "/problems.xlsx", p.problemsWorkbook},
		{"GET", "/problems/:id", p.problem},
		{"POST", "/problems/:id", p.problemPost},
		{"GET", "/problems/:id/pictures/:seq", p.problemPicture},
		{"GET", "/problems/:id/draft", p.problemDraft},
		{"GET", "/problems/:id/draft.xlsx", p.problemDraftWorkbook},
		{"GET", "/scanners", p.scanners},
		{"POST", "/scanners", p.scannersPost},
		{"GET", "/scanners/sheet.svg", p.sheet},
		{"GET", "/reconciliation", p.reconciliation},
		{"GET", "/reconciliation.xlsx", p.reconciliationWorkbook},
	} {
		r.Handle(route.method, route.pattern, p.handle(route.h))
	}
}

// A handler answers one request, or returns why it could not.
type handler func(*gin.Context) error

func (p *Pages) handle(h handler) gin.HandlerFunc {
	return func(c *gin.Context) {
		if err := h(c); err != nil {
			p.failed(c, err)
		}
	}
}

// scanOptions are how text and pictures are read now.
func (p *Pages) scanOptions() scanner.Options {
	return scanner.Options{Now: p.Book.Now(), Profile: p.Scanner}
}
