package wedge

import (
	"slices"
	"strings"
	"time"

	"lotbook/scanner/gs1"
)

const (
	// maxReadings is how many readings of one text are kept.
	maxReadings = 128
	// maxSearch is the longest text, in bytes, whose lost separators are
	// searched for. A GS1-128 symbol holds 48 characters, a DataMatrix with
	// everything that a device label carries some 150.
	maxSearch = 400
	// maxWork bounds how many pieces of readings are looked at for one text,
	// many times what a real label needs.
	maxWork = 40_000
)

// A node is one element of a reading, and the best readings of what follows it
// hang on it.
type node struct {
	ai       *gs1.AI
	from, to int // the value is text[from:to]
	next     *node
	score    int
	lost     int // separators supplied from here on
	// torn is set where an identifier comes again with another value: that is
	// no code, but it may be two in one line.
	torn bool
}

// A search finds the readings of a text whose separators were lost, or replaced
// by a character that values may hold too.
type search struct {
	text    string
	standIn string // what stands for the separator, "" if nothing does
	now     time.Time
	memo    map[int][]*node
	cut     bool // some readings were dropped for their number
	work    *int // what is left of maxWork
}

// readings returns the readings, best first, and behind them what the first of
// two codes would be, where the line may be two: a second one that begins with a
// date, say, and has another lot. Alone these are none: a part is no reading of
// the whole.
func (s *search) readings() [][]gs1.Element {
	if len(s.text) > maxSearch {
		s.cut = true
		return nil
	}
	s.memo = make(map[int][]*node)
	var out, parts [][]gs1.Element
	for _, n := range s.from(0) {
		torn := n.torn
		var els []gs1.Element
		for ; n.ai != nil; n = n.next {
			els = append(els, gs1.Element{AI: n.ai, Value: s.text[n.from:n.to]})
		}
		switch {
		case torn:
			parts = append(parts, firstOfTwo(els)...)
		case gs1.Check(els) == nil:
			out = append(out, els)
		}
	}
	if len(out) == 0 {
		return nil
	}
	return append(out, parts...)
}

// firstOfTwo returns what may be the first of two codes: cut so that each is
// sound alone, and the second is more than a lot, which any longer lot may seem
// to hold, and begins with an element of fixed length.
func firstOfTwo(els []gs1.Element) [][]gs1.Element {
	var parts [][]gs1.Element
	for k := 1; k+2 <= len(els); k++ {
		if els[k].AI.Predefined() && gs1.Check(els[:k]) == nil && gs1.Check(els[k:]) == nil {
			parts = append(parts, els[:k])
		}
	}
	return parts
}

// from returns the best readings of text[at:].
func (s *search) from(at int) []*node {
	if at == len(s.text) {
		return []*node{{}} // the reading of nothing
	}
	if ns, ok := s.memo[at]; ok {
		return ns
	}
	var ns []*node
	if a, ok := gs1.Leading(s.text[at:]); ok {
		ns = s.element(a, at+len(a.Code()))
	}
	s.memo[at] = ns
	return ns
}

func (s *search) element(a *gs1.AI, from int) []*node {
	var ns, torn []*node
	least, most := a.Length()
	for to := from + least; to <= from+most && to <= len(s.text); to++ {
		next, lost := to, 0
		if to < len(s.text) {
			switch {
			case s.standIn != "" && strings.HasPrefix(s.text[to:], s.standIn):
				next += len(s.standIn)
			case a.Predefined():
			case s.standIn != "":
				continue
			default:
				lost = 1
			}
		}
		if next < len(s.text) && !startsElement(s.text[next:]) {
			continue
		}
		value := s.text[from:to]
		if !a.Accepts(value, s.now) {
			continue
		}
		own := weigh(a, value, s.now)
		for _, n := range s.from(next) {
			if *s.work--; *s.work < 0 {
				s.cut = true
				return nil
			}
			c := &node{ai: a, from: from, to: to, next: n, score: own + n.score - 2*lost, lost: n.lost + lost, torn: n.torn}
			if c.torn = c.torn || repeats(n, a, value, s.text); c.torn {
				torn = append(torn, c)
			} else {
				ns = append(ns, c)
			}
		}
	}
	return append(s.best(ns), s.best(torn)...)
}

// best sorts readings and keeps no more than can be listed.
func (s *search) best(ns []*node) []*node {
	slices.SortStableFunc(ns, func(x, y *node) int { return y.score - x.score })
	if len(ns) > maxReadings {
		s.cut = true
		ns = ns[:maxReadings]
	}
	return ns
}

func startsElement(s string) bool {
	_, ok := gs1.Leading(s)
	return ok
}

// repeats reports whether an identifier comes again in n.
func repeats(n *node, a *gs1.AI, value, text string) bool {
	for ; n.ai != nil; n = n.next {
		if n.ai == a && text[n.from:n.to] != value {
			return true
		}
	}
	return false
}

// weigh says how likely an element is on a medical label; 0 is the most likely.
// The numbers only order what is shown. Common practice, no source.
func weigh(a *gs1.AI, value string, now time.Time) int {
	w := -30
	switch a.Code() {
	case "01", "17", "10":
		w = 0
	case "21":
		w = -3
	case "11":
		w = -4
	case "30", "20", "240", "15", "13":
		w = -14
	case "02", "00", "37", "22", "241", "242", "16", "12", "250", "251", "7003":
		w = -18
	case "710", "711", "712", "713", "714", "715", "716", "717":
		w = -18
	case "90", "91", "92", "93", "94", "95", "96", "97", "98", "99":
		w = -22
	}
	switch a.Code() {
	case "10", "21":
		w += shape(value)
	case "17", "11":
		d, _ := gs1.Element{AI: a, Value: value}.Date(now)
		if off := d.Year - now.Year(); off > 12 || off < -8 {
			w -= 20
		} else {
			w += 8
		}
	}
	return w
}

// shape says how much a value looks like a lot or a serial.
func shape(v string) int {
	w := 0
	switch {
	case len(v) == 1:
		w -= 10
	case len(v) == 2:
		w -= 5
	case len(v) > 14:
		w -= 4
	}
	const marks = "!\"%&'()*+,-./:;<=>?_"
	if strings.Trim(v, marks) != v {
		w -= 12
	}
	return w
}
