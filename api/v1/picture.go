package v1

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"io"
	"net/http"
	"strings"
	"sync"
	"time"

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

// readPictures reads the codes in a picture, or in several of one pack, or says in
// a code why it can't.
func (a *API) readPictures(ctx context.Context, pics [][]byte) ([]scanner.Code, error) {
	sum := sumOf(pics)
	if codes, ok := a.seen.get(sum); ok {
		return codes, nil
	}
	select {
	case a.pictures <- struct{}{}:
		defer func() { <-a.pictures }()
	case <-ctx.Done():
		return nil, problem.Busy("Other pictures are being read.")
	}
	// Each picture gets the time of one; that of the request bounds them all.
	opts := picture.Options{MaxPixels: a.PicturePixels, Deadline: a.PictureTime * time.Duration(len(pics))}
	var rs []io.Reader
	for _, p := range pics {
		rs = append(rs, bytes.NewReader(p))
	}
	read := reading.Frames
	if len(pics) == 1 {
		read = func(ctx context.Context, rs []io.Reader, o picture.Options, opts scanner.Options) ([]scanner.Code, error) {
			return reading.Picture(ctx, rs[0], o, opts)
		}
	}
	codes, err := read(ctx, rs, opts, a.options())
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

// sumOf is a digest of pictures in their order.
func sumOf(pics [][]byte) [sha256.Size]byte {
	if len(pics) == 1 {
		return sha256.Sum256(pics[0])
	}
	h := sha256.New()
	for _, p := range pics {
		one := sha256.Sum256(p)
		h.Write(one[:])
	}
	return [sha256.Size]byte(h.Sum(nil))
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

const pictureTypes = "application/json, image/png, image/jpeg, image/webp, or multipart/form-data with parts picture"

// bodyOf reads a request that is JSON, a picture, or both in a multipart form:
// one picture or several of one pack in parts "picture", the JSON in the part of
// that name. v gets the JSON; there may be no picture.
func bodyOf(c *gin.Context, part string, v any) (pics [][]byte, err error) {
	switch t, _ := mediaType(c); {
	case t == jsonType:
		return nil, decode(c, v)
	case isPicture(t):
		pic, err := pictureOf(c.Request.Body)
		return [][]byte{pic}, err
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

func formOf(c *gin.Context, part string, v any) (pics [][]byte, err error) {
	mr, err := c.Request.MultipartReader()
	if err != nil {
		return nil, problem.Bad("malformed", "Content-Type", "Give the boundary in the Content-Type.", "The form can't be read.")
	}
	had := false
	for {
		p, err := mr.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, sendingError(err)
		}
		switch name := p.FormName(); {
		case name == "picture" && len(pics) == picture.MaxFrames:
			return nil, problem.Bad("repeated_parameter", name, "Send fewer pictures of the pack.", "The form has more than %d pictures.", picture.MaxFrames)
		case name == "picture":
			pic, err := pictureOf(p)
			if err != nil {
				return nil, err
			}
			pics = append(pics, pic)
		case name == part && v != nil && had:
			return nil, problem.Bad("repeated_parameter", name, "Send it once.", "The form has more than one part %q.", name)
		case name == part && v != nil:
			had = true
			if err := decodeFrom(p, v); err != nil {
				return nil, err
			}
		default:
			return nil, problem.Bad("unknown_member", name, "Leave it out.", "There is no part %q here.", name)
		}
	}
	if pics == nil {
		return nil, problem.Bad("parameter_missing", "picture", "Send the picture in a part of that name.", "The form has no part %q.", "picture")
	}
	return pics, nil
}

// linesOf takes a text apart into lines, of which each is a scan.
func linesOf(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return r == '\n' || r == '\r' })
}
