package gs1

import (
	"strings"
	"time"
)

// MaxElements is how many element strings one message may hold. The largest
// symbol that GS1 allows holds fewer useful ones; the bound keeps the checks
// between elements cheap.
const MaxElements = 64

// typical is the room that Parse makes at first: a UDI has two to six elements.
const typical = 6

// Parse reads an element string: the text of a GS1 symbol without its
// symbology identifier and without a leading FNC1, with Separator after each
// value whose length is not predefined. It checks each value and the
// associations between identifiers (see Check), and returns the elements in
// the order carried, repeats kept. Values are parts of s; nothing is copied.
// An error is an *Error.
//
// A missing partner is no error here, because the other symbol of the label may
// carry it: see Missing. now says in which century a two-digit year falls.
func Parse(s string, now time.Time) ([]Element, error) {
	return Append(make([]Element, 0, typical), s, now)
}

// Append is Parse into a slice that the caller provides. It allocates nothing
// when s is valid and dst has room.
func Append(dst []Element, s string, now time.Time) ([]Element, error) {
	start := len(dst)
	dst, a, at, p := scan(dst, s, now.Year())
	if p != fine {
		return dst[:start], p.at(a, at)
	}
	if err := Check(dst[start:]); err != nil {
		return dst[:start], err
	}
	return dst, nil
}

// scan splits s and checks each value. On a problem it says at which
// identifier and position.
func scan(dst []Element, s string, year int) (_ []Element, a *AI, at int, p problem) {
	if s == "" {
		return dst, nil, 0, unknownAI
	}
	start := len(dst)
	for at = 0; at < len(s); {
		a = find(s[at:])
		if a == nil {
			if at > 0 && s[at] == Separator {
				return dst, nil, at, doubledSeparator
			}
			return dst, nil, at, unknownAI
		}
		if len(dst)-start == MaxElements {
			return dst, a, at, tooMany
		}
		from := at + len(a.code)
		rest := s[from:]
		if a.predefined && len(rest) > a.max {
			rest = rest[:a.max]
		}
		if end := strings.IndexByte(rest, Separator); end >= 0 {
			rest = rest[:end]
		}
		n, p := a.check(rest, year)
		if p != fine {
			return dst, a, from, p
		}
		if n < len(rest) {
			return dst, a, from, tooLong
		}
		dst = append(dst, Element{AI: a, Value: rest})
		at = from + n
		if at < len(s) && s[at] == Separator {
			at++
		}
	}
	return dst, nil, 0, fine
}

// Valid checks one value by the rules of its identifier alone. The error is
// an *Error.
func Valid(a *AI, value string, now time.Time) error {
	if p := a.valid(value, now.Year()); p != fine {
		return p.at(a, 0)
	}
	return nil
}

// valid checks a value whose end is known.
func (a *AI) valid(v string, year int) problem {
	switch {
	case v == "":
		return emptyValue
	case len(v) < a.min:
		return tooShort
	case len(v) > a.max:
		return tooLong
	}
	n, p := a.check(v, year)
	if p == fine && n < len(v) {
		return tooLong
	}
	return p
}

// check runs the components of the value over v and returns how much of v they
// took.
func (a *AI) check(v string, year int) (n int, p problem) {
	if v == "" {
		return 0, emptyValue
	}
	for i := range a.parts {
		c := &a.parts[i]
		w := v[n:]
		if len(w) > int(c.max) {
			w = w[:c.max]
		}
		if len(w) == 0 && c.optional {
			continue
		}
		if len(w) < int(c.min) {
			return n, tooShort
		}
		if p := c.set.check(w); p != fine {
			return n, p
		}
		for _, r := range c.rules {
			if r == noRule {
				break
			}
			if p := r.check(w, year); p != fine {
				return n, p
			}
		}
		n += len(w)
	}
	return n, fine
}

// Format writes elements as an element string, with a separator after each
// value that needs one and has a successor.
func Format(elements []Element) string {
	var b strings.Builder
	for i, e := range elements {
		b.WriteString(e.AI.code)
		b.WriteString(e.Value)
		if !e.AI.predefined && i < len(elements)-1 {
			b.WriteByte(Separator)
		}
	}
	return b.String()
}

// Accepts is Valid without the reason; it allocates nothing.
func (a *AI) Accepts(value string, now time.Time) bool {
	return a.valid(value, now.Year()) == fine
}
