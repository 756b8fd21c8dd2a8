package scanner

import (
	"slices"
	"time"

	"lotbook/scanner/gs1"
)

// facts are the members that codes and candidates share.
type facts struct {
	gtin, lot, serial, expires, made string
	quantity                         int
}

// factsOf reads the facts from elements. Both dates are parts of one string, so
// that a code with two dates costs one allocation.
func factsOf(els []gs1.Element, now time.Time) facts {
	var f facts
	var expires, made *gs1.Element
	for i := range els {
		e := &els[i]
		switch e.AI.Code() {
		case "01":
			f.gtin = e.Value
		case "02", "03":
			if f.gtin == "" {
				f.gtin = e.Value
			}
		case "8006", "8026":
			f.gtin = e.Value[:14]
		case "10":
			f.lot = e.Value
		case "21":
			f.serial = e.Value
		case "17":
			expires = e
		case "7003":
			if expires == nil || expires.AI.Code() == "7003" {
				expires = e
			}
		case "11":
			made = e
		case "8008":
			if made == nil || made.AI.Code() == "8008" {
				made = e
			}
		case "30", "37":
			f.quantity = number(e.Value)
		}
	}
	if expires == nil && made == nil {
		return f
	}
	var buf [2 * len("2006-01-02T15:04:05")]byte
	b, year := buf[:0], now.Year()
	if expires != nil {
		b = expires.AppendDate(b, year)
	}
	n := len(b)
	if made != nil {
		b = made.AppendDate(b, year)
	}
	s := string(b)
	f.expires, f.made = s[:n], s[n:]
	return f
}

// number reads a count of up to eight digits.
func number(v string) int {
	n := 0
	for i := range len(v) {
		n = n*10 + int(v[i]-'0')
	}
	return n
}

func (f *facts) into(c *Code) {
	c.GTIN, c.Lot, c.Serial, c.Expires, c.Made, c.Quantity = f.gtin, f.lot, f.serial, f.expires, f.made, f.quantity
	c.NDC, _ = gs1.NDC10(f.gtin)
}

// common keeps what f and g agree on.
func (f facts) common(g facts) facts {
	keep := func(a, b string) string {
		if a != b {
			return ""
		}
		return a
	}
	f.gtin, f.lot, f.serial = keep(f.gtin, g.gtin), keep(f.lot, g.lot), keep(f.serial, g.serial)
	f.expires, f.made = keep(f.expires, g.expires), keep(f.made, g.made)
	if f.quantity != g.quantity {
		f.quantity = 0
	}
	return f
}

func elementsOf(els []gs1.Element) []Element {
	out := make([]Element, len(els))
	for i, e := range els {
		out[i] = Element{AI: e.AI.Code(), Title: e.AI.Title(), Value: e.Value}
	}
	return out
}

func candidateOf(els []gs1.Element, now time.Time) Candidate {
	f := factsOf(els, now)
	return Candidate{
		GTIN: f.gtin, Lot: f.lot, Serial: f.serial, Expires: f.expires, Made: f.made,
		Quantity: f.quantity, Elements: elementsOf(els),
	}
}

// agreed returns the elements of the first reading that all others have too.
func agreed(readings [][]gs1.Element) []gs1.Element {
	var out []gs1.Element
	for _, e := range readings[0] {
		if !slices.ContainsFunc(readings[1:], func(r []gs1.Element) bool { return !slices.Contains(r, e) }) {
			out = append(out, e)
		}
	}
	return out
}

// gs1Warnings says what was tolerated in elements.
func gs1Warnings(els []gs1.Element, now time.Time) []Warning {
	var ws []Warning
	content := false
	for _, e := range els {
		content = content || e.AI.Code() == "02"
		if !e.DayZero() {
			continue
		}
		if d, ok := e.Date(now); ok {
			ws = append(ws, Warning{
				string(gs1.DateDay00),
				"AI (" + e.AI.Code() + ") gives day 00, which was read as the last day of the month, " + d.String(),
			})
		}
	}
	for _, m := range gs1.Missing(els) {
		ws = append(ws, Warning{string(m.Code), m.Message})
	}
	if content {
		ws = append(ws, Warning{"content_gtin", "this is the label of a shipping unit: the GTIN, the count and the lot are those of what is in it"})
	}
	return ws
}
