package v1

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"io"
	"mime/multipart"
	"net/http"
	"strings"
	"sync"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/api/reading"
	"lotbook/scanner"
	"lotbook/scanner/picture"
)

// options are what is known beside a text.
func (a *API) options() scanner.Options {
	return scanner.Options{Now: a.Book.Now(), Profile: a.Scanner}
}

// readPicture reads the codes in a picture, or says in a code why it can't.
func (a *API) readPicture(ctx context.Context, pic []byte) ([]scanner.Code, error) {
	sum := sha256.Sum256(pic)
	if codes, ok := a.seen.get(sum); ok {
		return codes, nil
	}
	select {
	case a.pictures <- struct{}{}:
		defer func() { <-a.pictures }()
	case <-ctx.Done():
		return nil, problem.Busy("Other pictures are being read.")
	}
	opts := picture.Options{MaxPixels: a.PicturePixels, Deadline: a.PictureTime}
	codes, err := reading.Picture(ctx, bytes.NewReader(pic), opts, a.options())
	if err != nil {
		return nil, err
	}
	if f := reading.NoPicture(codes); f != nil {
		return nil, &problem.Request{
			Status: http.StatusUnprocessableEntity, Code: f.Code, Field: "picture", Message: f.Message,
			Hint: "Send a whole PNG, JPEG or WebP picture, not too large.",
		}
	}
	a.seen.put(sum, codes)
	return codes, nil
}

// seenPictures remembers what was read in the last pictures. Reading has a time
// limit, so the same picture sent again might be read otherwise on a busy
// machine, and the same request must stay the same.
type seenPictures struct {
	mu    sync.Mutex
	codes map[[sha256.Size]byte][]scanner.Code
	order [][sha256.Size]byte
}

// keptPictures is how many pictures are remembered: their codes alone.
const keptPictures = 256

func (s *seenPictures) get(sum [sha256.Size]byte) ([]scanner.Code, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	codes, ok := s.codes[sum]
	return codes, ok
}

func (s *seenPictures) put(sum [sha256.Size]byte, codes []scanner.Code) {
	for _, c := range codes {
		if c.Error != nil {
			return
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.codes == nil {
		s.codes = map[[sha256.Size]byte][]scanner.Code{}
	}
	if _, ok := s.codes[sum]; !ok {
		s.order = append(s.order, sum)
	}
	s.codes[sum] = codes
	if len(s.order) > keptPictures {
		delete(s.codes, s.order[0])
		s.order = s.order[1:]
	}
}

// isPicture reports whether a media type is one of a picture that can be read.
func isPicture(t string) bool { return t == "image/png" || t == "image/jpeg" || t == "image/webp" }

const pictureTypes = "application/json, image/png, image/jpeg, image/webp, or multipart/form-data with a part picture"

// bodyOf reads a request that is JSON, a picture, or both in a multipart form:
// the picture in the part "picture", the JSON in the part of that name. v gets
// the JSON; the picture is nil if there is none.
func bodyOf(c *gin.Context, part string, v any) (pic []byte, err error) {
	switch t, _ := mediaType(c); {
	case t == jsonType:
		return nil, decode(c, v)
	case isPicture(t):
		return pictureOf(c.Request.Body)
	case t == "multipart/form-data":
		return formOf(c, part, v)
	}
	return nil, wrongType(pictureTypes)
}

func pictureOf(r io.Reader) ([]byte, error) {
	pic, err := io.ReadAll(r)
	if err != nil {
		return nil, sendingError(err)
	}
	if len(pic) == 0 {
		return nil, problem.Bad("malformed", "picture", "Send a PNG, JPEG or WebP picture.", "The picture has no bytes.")
	}
	return pic, nil
}

// sendingError tells a body that is too large from one that broke off.
func sendingError(err error) error {
	if size := (*http.MaxBytesError)(nil); errors.As(err, &size) {
		return err
	}
	return problem.Bad("malformed", "", "Send it again.", "The request broke off or is not put together rightly.")
}

func formOf(c *gin.Context, part string, v any) (pic []byte, err error) {
	mr, err := c.Request.MultipartReader()
	if err != nil {
		return nil, problem.Bad("malformed", "Content-Type", "Give the boundary in the Content-Type.", "The form can't be read.")
	}
	had := map[string]bool{}
	for {
		p, err := mr.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, sendingError(err)
		}
		name := p.FormName()
		if had[name] {
			return nil, problem.Bad("repeated_parameter", name, "Send one picture at a time.", "The form has more than one part %q.", name)
		}
		had[name] = true
		if pic, err = takePart(p, name, part, pic, v); err != nil {
			return nil, err
		}
	}
	if pic == nil {
		return nil, problem.Bad("parameter_missing", "picture", "Send the picture in a part of that name.", "The form has no part %q.", "picture")
	}
	return pic, nil
}

func takePart(p *multipart.Part, name, part string, pic []byte, v any) ([]byte, error) {
	switch {
	case name == "picture":
		return pictureOf(p)
	case name == part && v != nil:
		return pic, decodeFrom(p, v)
	}
	return nil, problem.Bad("unknown_member", name, "Leave it out.", "There is no part %q here.", name)
}

// linesOf takes a text apart into lines, of which each is a scan.
func linesOf(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return r == '\n' || r == '\r' })
}
