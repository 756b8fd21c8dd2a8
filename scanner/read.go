package scanner

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"lotbook/scanner/gs1"
	"lotbook/scanner/hibc"
	"lotbook/scanner/wedge"
)

// MaxLength is the longest text, in bytes, that Read and FromSymbol take. The
// largest symbol in use on packs (DataMatrix, 3116 digits) is below it.
const MaxLength = 4096

// Options say what is known beside the text.
type Options struct {
	// Now decides in which century a two-digit year falls. It must be set.
	Now time.Time
	// Source is copied into each Code.
	Source string
	// Profile says what the keyboard scanner does to text. The zero value
	// knows nothing.
	Profile wedge.Profile
	// Known returns what earlier confirmed scans of a GTIN showed, nil if
	// there were none. It may be nil.
	Known func(gtin string) *wedge.Known

	// remapped is set for a text whose keys were put right on suspicion, and
	// swapped where the case of its letters was.
	remapped, swapped bool
}

// Read reads what a keyboard scanner or a person typed: one line, which may
// hold more than one symbol. It returns one Code for each, and none for an
// empty line. A Code with an Error has nothing guessed in it.
//
// A text that can be read in several ways has them as Candidates, and the
// members that they disagree on are empty; see Code.
func Read(text string, opts Options) []Code {
	var room [quickElements]gs1.Element
	if els, ok := quick(room[:0], text, &opts); ok {
		cs, out := allocate(len(els))
		cs[0].fill(out, els, text, &opts)
		return cs
	}
	return readAll(text, opts)
}

// AppendRead is Read into a slice that the caller provides. It takes the memory
// of codes that lie beyond the length of dst, their Elements too, so whoever
// reads line after line and is done with the codes of one before the next makes
// almost nothing to be collected:
//
//	codes = scanner.AppendRead(codes[:0], line, opts)
func AppendRead(dst []Code, text string, opts Options) []Code {
	var room [quickElements]gs1.Element
	els, ok := quick(room[:0], text, &opts)
	if !ok {
		return append(dst, readAll(text, opts)...)
	}
	n := len(dst)
	if n == cap(dst) {
		dst = slices.Grow(dst, 1)
	}
	dst = dst[:n+1]
	out := dst[n].Elements
	if cap(out) < len(els) {
		out = make([]Element, quickElements)
	}
	dst[n].fill(out[:len(els)], els, text, &opts)
	return dst
}

func readAll(text string, opts Options) []Code {
	if f := refused(text, opts); f != nil {
		return []Code{{Source: opts.Source, Error: f}}
	}
	var out []Code
	for _, line := range wedge.Lines(text) {
		if strings.Trim(line, " ") == "" {
			continue
		}
		cs := readLine(line, opts)
		for i := range cs {
			cs[i].Source = opts.Source
		}
		out = append(out, cs...)
	}
	return out
}

// readLine reads a line as the profile says, and as if there were no profile
// where that fails.
func readLine(line string, opts Options) []Code {
	read := func(line string, opts Options) (cs []Code) {
		for _, piece := range wedge.Symbols(strings.TrimFunc(line, frames), knownSymbology) {
			cs = append(cs, readPiece(piece, opts)...)
		}
		return cs
	}
	if opts.Profile == (wedge.Profile{}) {
		return read(line, opts)
	}
	undone, warnings := opts.Profile.Undo(line)
	cs := read(undone, opts)
	if !good(cs) {
		plain := opts
		plain.Profile = wedge.Profile{}
		for _, text := range []string{undone, line} {
			if again := read(text, plain); good(again) {
				cs, warnings = again, contradicted
				break
			}
		}
	}
	for i := range cs {
		if len(warnings) == 0 && slices.ContainsFunc(cs[i].Warnings, unprofiled) {
			warnings = contradicted
		}
	}
	for i := range cs {
		if cs[i].Error == nil {
			cs[i].warn(warnings)
		}
	}
	return cs
}

// contradicted says that a text does not look as the scanner's profile says.
var contradicted = []wedge.Warning{{
	Code:    "profile_contradicted",
	Message: "this scan does not look as the scanner's profile says it should; scan the test sheet again with this scanner",
}}

// unprofiled reports whether a warning is of something that a profile undoes
// before it can be noticed.
func unprofiled(w Warning) bool { return w.Code == "caps_lock" || w.Code == "keyboard_layout" }

// FromSymbol reads the text of a symbol that was decoded from a picture:
// symbology is its AIM identifier, raw the text without it, with each separator
// as U+001D. Separators are trusted to be exact.
func FromSymbol(symbology, raw string, opts Options) Code {
	c := Code{}
	if f := refused(raw, opts); f != nil {
		c.Error = f
	} else {
		c = interpret(symbology, raw, true, opts)
	}
	c.Source, c.Symbology = opts.Source, symbology
	if c.Raw == "" {
		c.Raw = raw
	}
	if len(raw) > MaxLength {
		c.Raw = ""
	}
	return c
}

// quick parses the common case into room: an element string with its symbology
// identifier and a separator that arrived.
func quick(room []gs1.Element, text string, opts *Options) ([]gs1.Element, bool) {
	if len(text) < 5 || len(text) > 256 || text[0] != ']' || classOf(text[:3]) != classGS1 ||
		strings.IndexByte(text, gs1.Separator) < 0 || strings.IndexByte(text[3:], ']') >= 0 ||
		opts.Now.IsZero() || opts.Profile != (wedge.Profile{}) {
		return nil, false
	}
	els, err := gs1.Append(room, text[3:], opts.Now)
	if err != nil || len(els) > quickElements {
		return nil, false
	}
	for i := range els {
		if !els[i].AI.Predefined() && wedge.AllSmall(els[i].Value) {
			return nil, false // they may have been capitals
		}
	}
	return els, true
}

// quickElements is how many elements the common case has at most.
const quickElements = 8

// fill makes the code of the common case, with room for its elements.
func (c *Code) fill(room []Element, els []gs1.Element, text string, opts *Options) {
	for i := range els {
		e, to := &els[i], &room[i]
		to.AI, to.Title, to.Value = e.AI.Code(), e.AI.Title(), e.Value
	}
	*c = Code{}
	c.Source, c.Symbology, c.Raw, c.Carrier, c.Elements = opts.Source, text[:3], text[3:], CarrierGS1, room
	f := factsOf(els, opts.Now)
	f.into(c)
	c.Warnings = gs1Warnings(els, opts.Now)
}

// allocate makes room for one code and its elements in one piece of memory, no
// larger than it must be: what is collected later costs more than the reading.
func allocate(elements int) ([]Code, []Element) {
	switch {
	case elements <= 3:
		s := new(struct {
			code [1]Code
			els  [3]Element
		})
		return s.code[:], s.els[:elements:elements]
	case elements <= 5:
		s := new(struct {
			code [1]Code
			els  [5]Element
		})
		return s.code[:], s.els[:elements:elements]
	default:
		s := new(struct {
			code [1]Code
			els  [8]Element
		})
		return s.code[:], s.els[:elements:elements]
	}
}

// refused says why a text is not looked at.
func refused(text string, opts Options) *Fault {
	switch {
	case len(text) > MaxLength:
		return &Fault{"input_too_long", fmt.Sprintf("the text has %d characters, which is more than any label carries (%d); scan one label at a time", len(text), MaxLength)}
	case opts.Now.IsZero():
		return &Fault{"no_clock", "the program did not say what today's date is, and two-digit years cannot be read without it"}
	default:
		return nil
	}
}

func (c *Code) warn(ws []wedge.Warning) {
	for _, w := range ws {
		c.Warnings = append(c.Warnings, Warning(w))
	}
}

// faultOf turns an error of the readers below into a Fault.
func faultOf(err error) *Fault {
	var g *gs1.Error
	if errors.As(err, &g) {
		return &Fault{string(g.Code), g.Error()}
	}
	var h *hibc.Error
	if errors.As(err, &h) {
		return &Fault{string(h.Code), h.Reason}
	}
	return &Fault{"unreadable", err.Error()}
}

func failed(err error, raw string) Code { return Code{Raw: raw, Error: faultOf(err)} }
