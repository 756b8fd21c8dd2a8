package picture

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"time"
)

// A Point is a place in the picture, in pixels: X to the right, Y down, the
// centre of the first pixel at 0.5, 0.5.
type Point struct{ X, Y float64 }

// A Symbol is one barcode that was read.
type Symbol struct {
	// Symbology is the AIM symbology identifier (ISO/IEC 15424): "]d2" GS1
	// DataMatrix, "]C1" GS1-128, "]Q3" GS1 QR, "]E0" EAN-13 and UPC, "]E4"
	// EAN-8, "]I1" ITF-14, "]e0" GS1 DataBar, "]A0" Code 39, and the plain
	// kinds "]d1", "]C0", "]Q1".
	Symbology string
	// Text is what the symbol carries, without the symbology identifier. Each
	// FNC1 that separates is U+001D; the FNC1 that only says "this is GS1" is
	// left out.
	Text string
	// Corners are the symbol's corners in pixels of the picture given, in
	// order around it, beginning with the symbol's own top left. For a linear
	// symbol they bound the part that was read.
	Corners [4]Point
	// Frame is the picture that Corners are in, counted from 0, where several
	// were read together (DecodeFrames).
	Frame int
}

// moved is the symbol in a picture whose first pixel lies at a point.
func (s Symbol) moved(by Point, frame int) Symbol {
	for i := range s.Corners {
		s.Corners[i].X += by.X
		s.Corners[i].Y += by.Y
	}
	s.Frame = frame
	return s
}

// Options limits the work. The zero value is meant for photographs of packs.
type Options struct {
	// MaxPixels is the largest width times height that is looked at; a larger
	// picture gets a *SizeError before it is decoded. 0 means DefaultMaxPixels.
	MaxPixels int
	// Deadline is how long one picture may take. 0 means DefaultDeadline,
	// below 0 means no deadline but the context's own.
	Deadline time.Duration
	// Limit stops the search after so many symbols. 0 means all.
	Limit int
	// Found, if set, is told of each symbol as soon as it is sure. It runs on
	// the caller's goroutine and sees the symbols in the order found.
	Found func(Symbol)
}

// The limits that the zero Options stand for.
const (
	DefaultMaxPixels = 50_000_000
	DefaultDeadline  = 3 * time.Second
)

var (
	// ErrFormat is returned for bytes that are not a picture of a known kind.
	ErrFormat = errors.New("not a PNG, JPEG or WebP picture")
	// ErrDamaged is returned for a picture whose bytes end early or are wrong.
	ErrDamaged = errors.New("the picture is damaged")
	// ErrTooLarge is what a *SizeError unwraps to.
	ErrTooLarge = errors.New("the picture has too many pixels")
	// ErrFrames is returned for no pictures, or too many, to be read together.
	ErrFrames = errors.New("a wrong number of pictures")
	// ErrDeadline is returned, with the symbols found so far, when the time
	// given was over before everything was tried.
	ErrDeadline = errors.New("the time for reading the picture was over")
)

// A SizeError says how large a refused picture is, in pixels.
type SizeError struct{ Width, Height, Max int }

// Error implements the error interface.
func (e *SizeError) Error() string {
	return fmt.Sprintf("the picture has %d×%d pixels, more than the %d allowed", e.Width, e.Height, e.Max)
}

// Unwrap returns ErrTooLarge.
func (e *SizeError) Unwrap() error { return ErrTooLarge }

// Decode reads every symbol in a PNG, JPEG or WebP picture.
//
// A picture without a symbol gives an empty slice and no error. Errors are
// ErrFormat, ErrDamaged, *SizeError, ErrDeadline, the context's error and
// whatever r returned; with ErrDeadline and a context's error the symbols
// found so far are returned too.
func Decode(ctx context.Context, r io.Reader, o Options) ([]Symbol, error) {
	o = o.withDefaults()
	ctx, cancel := o.context(ctx)
	defer cancel()
	img, err := decodeImage(ctx, r, o.MaxPixels)
	if err != nil {
		return nil, asDeadline(ctx, err)
	}
	return read(ctx, img, o)
}

// Read reads every symbol in an image; see Decode for what it returns.
func Read(ctx context.Context, img image.Image, o Options) ([]Symbol, error) {
	o = o.withDefaults()
	b := img.Bounds()
	if tooLarge(b.Dx(), b.Dy(), o.MaxPixels) {
		return nil, &SizeError{Width: b.Dx(), Height: b.Dy(), Max: o.MaxPixels}
	}
	ctx, cancel := o.context(ctx)
	defer cancel()
	return read(ctx, img, o)
}

func (o Options) withDefaults() Options {
	if o.MaxPixels <= 0 {
		o.MaxPixels = DefaultMaxPixels
	}
	if o.Deadline == 0 {
		o.Deadline = DefaultDeadline
	}
	return o
}

// context adds the deadline, with ErrDeadline as its cause so that it can be
// told from the caller's own.
func (o Options) context(ctx context.Context) (context.Context, context.CancelFunc) {
	if o.Deadline < 0 {
		return context.WithCancel(ctx)
	}
	return context.WithTimeoutCause(ctx, o.Deadline, ErrDeadline)
}

// asDeadline replaces err by the reason that the context ended for, if it has.
func asDeadline(ctx context.Context, err error) error {
	if ctx.Err() == nil {
		return err
	}
	return fmt.Errorf("read picture: %w", context.Cause(ctx))
}

func read(ctx context.Context, img image.Image, o Options) ([]Symbol, error) {
	b := img.Bounds()
	if b.Dx() < minSide || b.Dy() < minSide {
		return []Symbol{}, nil
	}
	s := newSearch(ctx, grayOf(img), o)
	s.run()
	for i, sym := range s.found {
		s.found[i] = sym.moved(Point{float64(b.Min.X), float64(b.Min.Y)}, 0)
	}
	if s.stopped() && !s.full() {
		return s.found, asDeadline(ctx, nil)
	}
	return s.found, nil
}
