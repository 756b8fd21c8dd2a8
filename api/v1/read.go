package v1

import (
	"context"
	"net/http"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/api/reading"
	"lotbook/inventory"
	"lotbook/scanner"
)

// readRequest is text to be read: a line is a scan.
type readRequest struct {
	Text string `json:"text"`
	// Scanner is the tested scanner that it comes from.
	Scanner string `json:"scanner"`
}

// read answers POST /v1/read: each symbol in a text, a picture or several pictures
// of one pack as one code. It writes nothing.
func (a *API) read(c *gin.Context) error {
	var req readRequest
	if t, _ := mediaType(c); t == jsonType {
		if err := decode(c, &req); err != nil {
			return err
		}
		return a.readText(c, &req)
	}
	pics, err := bodyOf(c, "", nil)
	if err != nil {
		return err
	}
	codes, err := a.readPictures(c.Request.Context(), pics)
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, codes)
}

func (a *API) readText(c *gin.Context, req *readRequest) error {
	lines := linesOf(req.Text)
	if len(lines) == 0 {
		return problem.Bad("parameter_missing", "text", "Send what the scanner typed, a line for each scan.", "There is no text.")
	}
	if len(lines) > maxLines {
		return checkLines(len(lines), "text")
	}
	codes, err := a.readLines(c.Request.Context(), lines, req.Scanner, true)
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, codes)
}

// readLines reads the lines of a keyboard scanner; its name is empty where it was
// not tested. known says whether earlier scans of a product may settle what a
// line leaves open.
func (a *API) readLines(ctx context.Context, lines []string, name string, known bool) (codes []scanner.Code, err error) {
	codes = []scanner.Code{}
	err = a.Book.View(ctx, func(r inventory.Reader) error {
		var failed error
		opts := a.options()
		if opts.Profile, err = reading.Profile(r, inventory.ScannerID(name), opts.Profile); err != nil {
			return err
		}
		if known {
			opts.Known = reading.Known(r, func(err error) { failed = err })
		}
		for _, line := range lines {
			codes = append(codes, reading.Text(line, opts)...)
		}
		return failed
	})
	return codes, err
}
