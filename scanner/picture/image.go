package picture

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"

	"golang.org/x/image/webp"
)

// minSide is the smallest side, in pixels, of a picture that can hold a
// symbol: the smallest DataMatrix has 10 modules and a clear border.
const minSide = 10

func tooLarge(w, h, limit int) bool {
	return w < 0 || h < 0 || (w > 0 && h > limit/w)
}

// contextReader ends a slow or endless stream with the context.
type contextReader struct {
	ctx context.Context
	r   io.Reader
	err error // the last error of r itself, io.EOF left out
}

func (c *contextReader) Read(p []byte) (int, error) {
	if err := c.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := c.r.Read(p)
	if err != nil && !errors.Is(err, io.EOF) {
		c.err = err
	}
	return n, err
}

// decodeImage decodes a picture after looking at its header: no pixel is
// allocated for a picture that is refused. The kinds are told apart here and
// not by image.Decode, whose list depends on what else is linked in.
func decodeImage(ctx context.Context, r io.Reader, maxPixels int) (image.Image, error) {
	src := &contextReader{ctx: ctx, r: r}
	var head bytes.Buffer
	tee := io.TeeReader(src, &head)
	magic := make([]byte, 12)
	n, err := io.ReadFull(tee, magic)
	if src.err != nil {
		return nil, fmt.Errorf("read picture: %w", src.err)
	}
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err != nil && n < 4 && !bytes.HasPrefix(magic, []byte("\xff\xd8")) {
		return nil, fmt.Errorf("read picture: %w", ErrFormat)
	}
	config, decode := kindOf(magic[:n])
	if config == nil {
		if isHEIF(magic[:n]) {
			return nil, fmt.Errorf("read picture: %w", ErrHEIF)
		}
		return nil, fmt.Errorf("read picture: %w", ErrFormat)
	}
	replay := io.MultiReader(bytes.NewReader(magic[:n]), tee)
	cfg, err := guarded(func() (image.Config, error) { return config(replay) })
	if err != nil {
		return nil, damaged(src, err)
	}
	if tooLarge(cfg.Width, cfg.Height, maxPixels) {
		return nil, &SizeError{Width: cfg.Width, Height: cfg.Height, Max: maxPixels}
	}
	img, err := guarded(func() (image.Image, error) {
		return decode(io.MultiReader(&head, src))
	})
	if err != nil {
		return nil, damaged(src, err)
	}
	if b := img.Bounds(); tooLarge(b.Dx(), b.Dy(), maxPixels) {
		return nil, &SizeError{Width: b.Dx(), Height: b.Dy(), Max: maxPixels}
	}
	return img, nil
}

func kindOf(magic []byte) (func(io.Reader) (image.Config, error), func(io.Reader) (image.Image, error)) {
	switch {
	case bytes.HasPrefix(magic, []byte("\x89PNG")):
		return png.DecodeConfig, png.Decode
	case bytes.HasPrefix(magic, []byte("\xff\xd8")):
		return jpeg.DecodeConfig, jpeg.Decode
	case len(magic) == 12 && bytes.HasPrefix(magic, []byte("RIFF")) && bytes.HasSuffix(magic, []byte("WEBP")):
		return webp.DecodeConfig, webp.Decode
	}
	return nil, nil
}

// damaged tells a picture with wrong bytes from a stream that broke off.
func damaged(src *contextReader, err error) error {
	if src.err != nil {
		return fmt.Errorf("read picture: %w", src.err)
	}
	return fmt.Errorf("read picture: %w: %w", ErrDamaged, err)
}

// guarded turns a panic of a decoder into an error: no picture may end the
// program.
func guarded[T any](f func() (T, error)) (v T, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("decoder panic: %v", p)
		}
	}()
	return f()
}
