package reading

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"lotbook/scanner"
	"lotbook/scanner/picture"
)

// Text reads what a keyboard scanner sent or a person typed. What is known of
// products settles a doubt or leaves it, but never changes the order of the
// choices: the answer comes back as a number, and another scan may have taught
// something in between. So leave opts.Known out once a choice was made.
func Text(text string, opts scanner.Options) []scanner.Code {
	codes := scanner.Read(text, opts)
	if opts.Known == nil || !slices.ContainsFunc(codes, func(c scanner.Code) bool { return len(c.Candidates) > 0 && !c.Chosen }) {
		return codes
	}
	opts.Known = nil
	return scanner.Read(text, opts)
}

// Picture reads the codes in a PNG, JPEG or WebP picture. A picture that can't
// be read, or has no code in it, gives one Code with an Error that says what to
// do. The error is that of the context or of r.
func Picture(ctx context.Context, r io.Reader, o picture.Options, opts scanner.Options) ([]scanner.Code, error) {
	syms, err := picture.Decode(ctx, r, o)
	return codesOf(syms, err, opts)
}

// Frames reads several pictures of one pack together: what glare hides in one of
// them may show in another. If one can't be read at all, none is taken, and the
// Error says which.
func Frames(ctx context.Context, rs []io.Reader, o picture.Options, opts scanner.Options) ([]scanner.Code, error) {
	syms, err := picture.DecodeFrames(ctx, rs, o)
	if bad := (*picture.FrameError)(nil); errors.As(err, &bad) {
		codes, err := codesOf(nil, bad.Err, opts)
		if f := NoPicture(codes); f != nil {
			f.Message = fmt.Sprintf("picture %d of %d: %s", bad.Frame+1, len(rs), f.Message)
		}
		return codes, err
	}
	return codesOf(syms, err, opts)
}

// faulty returns what is wrong with bytes that should be a picture, nil if that
// is not what went wrong.
func faulty(err error) *scanner.Fault {
	var size *picture.SizeError
	switch {
	case errors.Is(err, picture.ErrHEIF):
		return &scanner.Fault{Code: "not_a_picture", Message: "this is a HEIF picture (HEIC, AVIF), which can't be read here; set the camera to JPEG and take it again"}
	case errors.Is(err, picture.ErrFormat):
		return &scanner.Fault{Code: "not_a_picture", Message: "this is not a PNG, JPEG or WebP picture; take the picture again, or scan the code"}
	case errors.Is(err, picture.ErrDamaged):
		return &scanner.Fault{Code: "damaged_picture", Message: "the picture arrived damaged; send it again"}
	case errors.As(err, &size):
		return &scanner.Fault{Code: "picture_too_large", Message: size.Error() + "; take it at a lower resolution"}
	}
	return nil
}

// Keep redraws a picture for the record, with at most so many bytes. Bytes that
// are no picture, or not a whole one, or one too large are a Fault.
func Keep(ctx context.Context, pic []byte, o picture.Options, most int) (*picture.Kept, *scanner.Fault, error) {
	k, err := picture.Keep(ctx, pic, o, most)
	if f := faulty(err); f != nil {
		return nil, f, nil
	}
	return k, nil, err
}

func codesOf(syms []picture.Symbol, err error, opts scanner.Options) ([]scanner.Code, error) {
	fault := func(code, message string) []scanner.Code {
		return []scanner.Code{{Source: opts.Source, Error: &scanner.Fault{Code: code, Message: message}}}
	}
	if len(syms) > 0 {
		codes := make([]scanner.Code, len(syms))
		for i, s := range syms {
			codes[i] = scanner.FromSymbol(s.Symbology, s.Text, opts)
		}
		return codes, nil
	}
	if f := faulty(err); f != nil {
		return fault(f.Code, f.Message), nil
	}
	switch {
	case errors.Is(err, picture.ErrDeadline):
		return fault("picture_took_too_long", "no code was found in the time for one picture; go closer, hold still, and let the code fill a third of the picture"), nil
	case err != nil:
		return nil, err
	}
	return fault("no_code", "no code was found in the picture; go closer, hold still, avoid glare, or type product and lot"), nil
}

// NoPicture returns the fault of codes that were read from bytes which are no
// picture, or not a whole one, or one too large; nil of any others.
func NoPicture(codes []scanner.Code) *scanner.Fault {
	if len(codes) != 1 || codes[0].Error == nil {
		return nil
	}
	switch f := codes[0].Error; f.Code {
	case "not_a_picture", "damaged_picture", "picture_too_large":
		return f
	}
	return nil
}

// Carry writes codes as lines that Carried reads back: the symbology identifier
// and the text of each symbol, for a client to hold while a person is asked.
// Codes that could not be read are left out.
func Carry(codes []scanner.Code) []string {
	var lines []string
	for _, c := range codes {
		if c.Error == nil && c.Raw != "" {
			lines = append(lines, c.Symbology+c.Raw)
		}
	}
	return lines
}

// Carried reads lines of symbols from a picture that Carry wrote.
func Carried(lines []string, opts scanner.Options) []scanner.Code {
	var codes []scanner.Code
	for _, l := range lines {
		if len(l) > 3 && strings.HasPrefix(l, "]") {
			codes = append(codes, scanner.FromSymbol(l[:3], l[3:], opts))
		}
	}
	return codes
}
