package v1

import (
	"errors"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/inventory"
	"lotbook/scanner"
	"lotbook/scanner/wedge"
)

// keyboardScanner is a scanner and what it does to text.
type keyboardScanner struct {
	ID      string         `json:"id"`
	Profile scannerProfile `json:"profile"`
}

type scannerProfile struct {
	Separator     string `json:"separator,omitempty"`
	Prefix        string `json:"prefix,omitempty"`
	Suffix        string `json:"suffix,omitempty"`
	ScannerLayout string `json:"scanner_layout,omitempty"`
	HostLayout    string `json:"host_layout,omitempty"`
	CapsLock      string `json:"caps_lock,omitempty"`
}

func scannerOf(s inventory.Scanner) keyboardScanner {
	p := s.Profile
	return keyboardScanner{string(s.ID), scannerProfile{p.Separator, p.Prefix, p.Suffix, string(p.Scanner), string(p.Host), string(p.CapsLock)}}
}

type scannerPage struct {
	Scanners []keyboardScanner `json:"scanners"`
	Next     string            `json:"next,omitempty"`
}

// listScanners answers GET /v1/scanners.
func (a *API) listScanners(c *gin.Context) error {
	page, next, err := listOf(a, c, inventory.Scanners, scannerOf, func(s *keyboardScanner) string { return s.ID })
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, scannerPage{page, next})
}

type scannerRequest struct {
	happened
	ID    string   `json:"id"`
	Scans []string `json:"scans"`
}

type scannerWritten struct {
	written
	Scanner  keyboardScanner `json:"scanner"`
	Findings []wedge.Finding `json:"findings"`
}

// createScanner answers POST /v1/scanners: what a scanner's scans of the test
// sheet show is kept.
func (a *API) createScanner(c *gin.Context) error {
	var req scannerRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	if text := strings.Join(req.Scans, "\n"); len(text) > scanner.MaxLength {
		return problem.Bad("lines", "scans", "Send the scans of its four codes.", "This is longer than the test sheet.")
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	profile, findings, err := wedge.Diagnose(req.Scans)
	if errors.Is(err, wedge.ErrSheet) {
		var said []string
		for _, f := range findings {
			said = append(said, f.Message)
		}
		return &problem.Request{
			Status: http.StatusUnprocessableEntity, Code: "test_sheet", Field: "scans",
			Message: "The scans of the test sheet give no profile. " + strings.Join(said, " "),
			Hint:    "Print the sheet at /scanners/sheet.svg and scan its four codes.",
		}
	}
	if err != nil {
		return err
	}
	rec, err := a.Book.SetScanner(c.Request.Context(), call, inventory.Scanner{ID: inventory.ScannerID(req.ID), Profile: profile})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*inventory.ScannerProfiled](evs)
		if err != nil {
			return nil, err
		}
		return scannerWritten{w, scannerOf(ev.Scanner), findings}, nil
	})
}
