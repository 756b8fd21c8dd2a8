package v1

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/api/reading"
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
	codes := []scanner.Code{}
	for _, line := range lines {
		codes = append(codes, reading.Text(line, a.options())...)
	}
	return respond(c, http.StatusOK, codes)
}
