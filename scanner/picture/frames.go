package picture

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
)

// MaxFrames is the most pictures that are read together.
const MaxFrames = 8

// A FrameError says which of several pictures an error is about, counted from 0.
type FrameError struct {
	Frame int
	Err   error
}

// Error implements the error interface.
func (e *FrameError) Error() string { return fmt.Sprintf("picture %d: %v", e.Frame+1, e.Err) }

// Unwrap returns what went wrong with the picture.
func (e *FrameError) Unwrap() error { return e.Err }

// DecodeFrames reads two or more pictures of one pack together: PNG, JPEG or
// WebP, each taken from where the holder of the camera liked. What one of them
// shows is read as Decode does. What none shows whole is put together: a module
// of a DataMatrix or QR code that is under glare in one picture is taken from
// another, modules that are doubtful in all are outvoted, and so are the bars of
// linear codes (see the package's description).
//
// The result is one pack's: a symbol seen in several pictures is there once, with
// its place in the first picture that shows it. Options.Deadline bounds the work
// on all pictures together and Options.Limit the symbols of all; Options.Found is
// told of each once. Errors are as Decode's, those about one picture as a
// *FrameError, and more than one joined; with them comes what the other pictures
// show.
func DecodeFrames(ctx context.Context, pictures []io.Reader, o Options) ([]Symbol, error) {
	o = o.withDefaults()
	if err := countFrames(len(pictures)); err != nil {
		return nil, err
	}
	ctx, cancel := o.context(ctx)
	defer cancel()
	f := newFrames(ctx, o)
	for _, r := range pictures {
		img, err := decodeImage(ctx, r, o.MaxPixels)
		f.look(img, err)
	}
	return f.finish()
}

// ReadFrames reads two or more images of one pack together, as DecodeFrames does.
func ReadFrames(ctx context.Context, images []image.Image, o Options) ([]Symbol, error) {
	o = o.withDefaults()
	if err := countFrames(len(images)); err != nil {
		return nil, err
	}
	ctx, cancel := o.context(ctx)
	defer cancel()
	f := newFrames(ctx, o)
	for _, img := range images {
		var err error
		if b := img.Bounds(); tooLarge(b.Dx(), b.Dy(), o.MaxPixels) {
			err = &SizeError{Width: b.Dx(), Height: b.Dy(), Max: o.MaxPixels}
		}
		f.look(img, err)
	}
	return f.finish()
}

func countFrames(n int) error {
	if n < 1 || n > MaxFrames {
		return fmt.Errorf("%w: %d pictures given, from 1 to %d can be read together", ErrFrames, n, MaxFrames)
	}
	return nil
}

// frames is the reading of several pictures of one pack.
type frames struct {
	ctx   context.Context
	opt   Options
	count int
	found []Symbol
	seen  evidence // of what no picture showed whole
	errs  []error
}

func newFrames(ctx context.Context, o Options) *frames {
	return &frames{ctx: ctx, opt: o, found: []Symbol{}}
}

// look reads the next picture, unless it could not be had.
func (f *frames) look(img image.Image, err error) {
	frame := f.count
	f.count++
	if f.ctx.Err() != nil || f.full() {
		return
	}
	if err != nil {
		f.errs = append(f.errs, &FrameError{frame, err})
		return
	}
	b := img.Bounds()
	if b.Dx() < minSide || b.Dy() < minSide {
		return
	}
	o := f.opt
	o.Found, o.Limit = nil, 0
	s := newSearch(f.ctx, grayOf(img), o)
	s.evidence = &f.seen
	f.seen.frame, f.seen.origin = frame, Point{float64(b.Min.X), float64(b.Min.Y)}
	s.run()
	for i, sym := range s.found {
		s.found[i] = sym.moved(f.seen.origin, frame)
	}
	f.take(s.found)
}

// take adds what one picture shows and none before it did. A text that it shows
// twice is there twice.
func (f *frames) take(own []Symbol) {
	for i, sym := range own {
		same := func(list []Symbol) (n int) {
			for _, o := range list {
				if o.Symbology == sym.Symbology && o.Text == sym.Text {
					n++
				}
			}
			return n
		}
		if same(f.found) < same(own[:i+1]) {
			f.add(sym)
		}
	}
}

func (f *frames) add(sym Symbol) {
	if f.full() {
		return
	}
	f.found = append(f.found, sym)
	if f.opt.Found != nil {
		f.opt.Found(sym)
	}
}

func (f *frames) full() bool { return f.opt.Limit > 0 && len(f.found) >= f.opt.Limit }

// finish puts together what no picture showed whole.
func (f *frames) finish() ([]Symbol, error) {
	stopped := func() bool { return f.full() || f.ctx.Err() != nil }
	for _, sym := range f.seen.together(stopped) {
		f.take([]Symbol{sym})
	}
	if f.ctx.Err() != nil && !f.full() {
		f.errs = append(f.errs, asDeadline(f.ctx, nil))
	}
	return f.found, errors.Join(f.errs...)
}
