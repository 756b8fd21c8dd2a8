package wedge

import (
	"time"

	"lotbook/scanner/gs1"
)

// directed returns the readings of text whose identifiers stand in one of the
// known orders and whose lot and serial have known shapes. It finds them also
// where there are too many readings to list. whole is false when the search
// was given up.
func (k *Known) directed(text string, now time.Time) (out [][]gs1.Element, whole bool) {
	if len(text) > maxSearch {
		return nil, false
	}
	for _, order := range k.Orders {
		d := directed{k: k, now: now, steps: 20_000}
		d.walk(text, order, nil)
		out = append(out, d.found...)
		if d.steps < 0 {
			return nil, false
		}
	}
	return out, true
}

type directed struct {
	k     *Known
	now   time.Time
	found [][]gs1.Element
	steps int // an upper bound on the work
}

func (d *directed) walk(text string, order []string, els []gs1.Element) {
	d.steps--
	if d.steps < 0 {
		return
	}
	if len(order) == 0 {
		if text == "" && gs1.Check(els) == nil {
			d.found = append(d.found, append([]gs1.Element(nil), els...))
		}
		return
	}
	a, ok := gs1.Leading(text)
	if !ok || a.Code() != order[0] {
		return
	}
	text = text[len(a.Code()):]
	least, most := a.Length()
	for n := least; n <= most && n <= len(text); n++ {
		if len(order) == 1 && n != len(text) {
			continue
		}
		e := gs1.Element{AI: a, Value: text[:n]}
		if a.Accepts(e.Value, d.now) && d.k.masks([]gs1.Element{e}) {
			d.walk(text[n:], order[1:], append(els[:len(els):len(els)], e))
		}
	}
}
