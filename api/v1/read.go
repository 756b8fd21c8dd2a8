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
}

// read answers POST /v1/read: each symbol in a text or a picture as one code.
// It writes nothing.
func (a *API) read(c *gin.Context) error {
	var req readRequest
	if t, _ := mediaType(c); t == jsonType {
		if err := decode(c, &req); err != nil {
			return err
		}
		return a.readText(c, req.Text)
	}
	pic, err := bodyOf(c, "", nil)
	if err != nil {
		return err
	}
	codes, err := a.readPicture(c.Request.Context(), pic)
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, codes)
}

func (a *API) readText(c *gin.Context, text string) error {
	lines := linesOf(text)
	if len(lines) == 0 {
		return problem.Bad("parameter_missing", "text", "Send what the scanner typed, a line for each scan.", "There is no text.")
	}
	if len(lines) > maxLines {
		return checkLines(len(lines), "text")
	}
	codes, err := a.readLines(c.Request.Context(), lines, true)
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, codes)
}

// readLines reads the lines of keyboard scanners. known says whether earlier
// scans of a product may settle what a line leaves open.
func (a *API) readLines(ctx context.Context, lines []string, known bool) (codes []scanner.Code, err error) {
	codes = []scanner.Code{}
	err = a.Book.View(ctx, func(r inventory.Reader) error {
		var failed error
		opts := a.options()
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
