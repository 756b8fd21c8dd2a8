package gs1

import (
	"strings"
	"time"
)

// ParseBracketed reads element strings as they are printed below a symbol and
// typed by people: "(01)09506000117843(17)271231(10)LOT42". Spaces beside a
// bracket are passed over; no value may hold one. An opening bracket is data
// unless two to four digits and a closing one follow it, or when a backslash
// stands before it. An error is an *Error.
func ParseBracketed(s string, now time.Time) ([]Element, error) {
	els := make([]Element, 0, typical)
	year := now.Year()
	at := 0
	for at < len(s) {
		size := bracketed(s[at:])
		if size == 0 {
			return nil, &Error{
				Code: BadBrackets, Offset: at,
				Reason: "an application identifier in brackets, such as (01), should stand here; type the line as it is printed",
			}
		}
		a, ok := Lookup(s[at+1 : at+size-1])
		if !ok {
			return nil, &Error{
				Code: UnknownAI, Offset: at,
				Reason: "there is no application identifier " + s[at:at+size] + "; compare it with the print",
			}
		}
		if len(els) == MaxElements {
			return nil, tooMany.at(a, at)
		}
		at += size
		value, n := bracketValue(s[at:])
		if p := a.valid(value, year); p != fine {
			return nil, p.at(a, at)
		}
		els = append(els, Element{AI: a, Value: value})
		at += n
	}
	if len(els) == 0 {
		return nil, unknownAI.at(nil, 0)
	}
	if err := Check(els); err != nil {
		return nil, err
	}
	return els, nil
}

// bracketed returns the length of an identifier in brackets that s begins
// with, 0 if there is none.
func bracketed(s string) int {
	if s == "" || s[0] != '(' {
		return 0
	}
	n := 1
	for n < len(s) && n < 6 && isDigit(s[n]) {
		n++
	}
	if n < 3 || n > 5 || n == len(s) || s[n] != ')' {
		return 0
	}
	return n + 1
}

// bracketValue returns the value that s begins with and how much of s it
// takes: all to the next identifier in brackets.
func bracketValue(s string) (value string, n int) {
	escaped := false
	for n < len(s) {
		if s[n] == '\\' && n+1 < len(s) && s[n+1] == '(' {
			escaped = true
			n += 2
			continue
		}
		if bracketed(s[n:]) > 0 {
			break
		}
		n++
	}
	value = strings.Trim(s[:n], " ")
	// A scanner that types brackets may send the separator as well.
	value = strings.TrimSuffix(value, string(Separator))
	if escaped {
		value = strings.ReplaceAll(value, `\(`, "(")
	}
	return value, n
}

// IsBracketed reports whether s begins with an identifier in brackets.
func IsBracketed(s string) bool { return bracketed(s) > 0 }

// FormatBracketed writes elements as they are printed below a symbol.
func FormatBracketed(elements []Element) string {
	var b strings.Builder
	for _, e := range elements {
		b.WriteByte('(')
		b.WriteString(e.AI.code)
		b.WriteByte(')')
		for i := range len(e.Value) {
			if bracketed(e.Value[i:]) > 0 {
				b.WriteByte('\\')
			}
			b.WriteByte(e.Value[i])
		}
	}
	return b.String()
}
