package trace

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"lotbook/inventory"
)

// What counts and records say together. None of it is on record as a cause, so
// it is marked as likely; and it accounts for no more than what is open.

// miscounts explains what one count of the span says and the count before it,
// or the next one, takes back, lot by lot: three more than the book at the one
// and three fewer at the other.
func (p *placeSpan) miscounts() {
	if p.closing == nil {
		return
	}
	for id, l := range p.lines {
		if l.OpenCountedLessRecorded == nil {
			continue
		}
		for _, lot := range slices.Sorted(maps.Keys(l.lots)) {
			if p.beforeCount != nil {
				p.miscount(l, inventory.Lot{Product: id, Number: lot}, p.before, p.beforeCount.Entry, "the count before", "this one")
			}
			p.miscount(l, inventory.Lot{Product: id, Number: lot}, p.after, 0, "this count", "the next one")
		}
	}
}

// miscount compares a lot's difference with what a count beside found.
func (p *placeSpan) miscount(l *Line, lot inventory.Lot, beside *inventory.Counted, entry uint64, first, second string) {
	if beside == nil {
		return
	}
	var other int64 // less than the book
	for _, c := range beside.Lines {
		if c.Product == lot.Product && c.Lot == lot.Number {
			other = c.Book - c.Counted
		}
	}
	open := *l.OpenCountedLessRecorded
	n := opposite(opposite(l.lots[lot.Number], other), -open)
	if n == 0 {
		return
	}
	l.lots[lot.Number] -= n
	fewer := n > 0
	if second != "this one" { // this count is the first of the two
		fewer = !fewer
	}
	text := fmt.Sprintf("%s found %d more of lot %s than the book and %s as many fewer", first, size(n), lot.Number, second)
	if !fewer {
		text = fmt.Sprintf("%s found %d fewer of lot %s than the book and %s as many more", first, size(n), lot.Number, second)
	}
	if entry == 0 {
		entry = p.closing.Entry
	}
	l.likely(CauseMiscount, n, entry, text+": one of them was wrong")
}

// opposite returns how much of a is taken back by b: with the sign of a, 0 if
// both have the same sign.
func opposite(a, b int64) int64 {
	switch {
	case a > 0 && b < 0:
		return min(a, -b)
	case a < 0 && b > 0:
		return max(a, -b)
	}
	return 0
}

func size(n int64) int64 { return max(n, -n) }

// carriedOver explains what one place has fewer and another more of without an
// entry of a move: first pieces of the same lot, then a piece that a treatment
// elsewhere must have used without a record, of which that place has not one
// fewer.
func (x *comparison) carriedOver() {
	lines := map[inventory.ProductID][]*Line{}
	for _, p := range x.places {
		for id, l := range p.lines {
			if l.OpenCountedLessRecorded != nil {
				lines[id] = append(lines[id], l)
			}
		}
	}
	for _, id := range slices.SortedFunc(maps.Keys(lines), cmp.Compare[inventory.ProductID]) {
		for _, from := range lines[id] {
			for _, to := range lines[id] {
				for _, lot := range slices.Sorted(maps.Keys(from.lots)) {
					carriedLot(from, to, lot)
				}
			}
		}
		for _, from := range lines[id] {
			for _, to := range lines[id] {
				carriedUnrecorded(from, to)
			}
		}
	}
}

// carriedLot explains pieces of a lot that one place has fewer and another more.
func carriedLot(from, to *Line, lot string) {
	n := min(from.lots[lot], -to.lots[lot], *from.OpenCountedLessRecorded, -*to.OpenCountedLessRecorded)
	if n <= 0 {
		return
	}
	from.lots[lot] -= n
	to.lots[lot] += n
	from.likely(CauseCarried, n, 0, fmt.Sprintf("%d of lot %s fewer here and as many more at %s: carried there without an entry", n, lot, to.Location))
	to.likely(CauseCarried, -n, 0, fmt.Sprintf("%d of lot %s more here and as many fewer at %s: carried here without an entry", n, lot, from.Location))
}

// carriedUnrecorded explains pieces that went from a place and that treatments
// at another must have used without a record.
func carriedUnrecorded(from, to *Line) {
	n := min(to.unrecorded(), *from.OpenCountedLessRecorded, -*to.OpenCountedLessRecorded)
	if n <= 0 {
		return
	}
	from.likely(CauseCarried, n, 0, fmt.Sprintf("%d fewer here, and as many used at %s without a record that are not gone there: taken from here without an entry", n, to.Location))
	to.likely(CauseCarried, -n, 0, fmt.Sprintf("%d used without a record and not gone here, and as many fewer at %s: taken from there without an entry", n, from.Location))
}

// unrecorded returns how many pieces treatments must have used without a record,
// less those that came from elsewhere.
func (l *Line) unrecorded() (n int64) {
	for _, c := range l.Causes {
		switch {
		case c.Kind == CauseNotRecorded || c.Kind == CauseLongRun || c.Kind == CauseNoRecordRule:
			n += c.Counted
		case c.Likely && (c.Kind == CauseCarried || c.Kind == CauseOtherProduct):
			n += min(0, c.Counted)
		}
	}
	return n
}

// unrecordedShared explains pieces of something shared by treatments without a
// record of it: each may have begun one.
func (p *placeSpan) unrecordedShared() {
	for id, l := range p.lines {
		if _, shared := p.shared[id]; !shared || l.OpenCountedLessRecorded == nil || *l.OpenCountedLessRecorded <= 0 {
			continue
		}
		var n int64
		for i := range l.Causes {
			c := &l.Causes[i]
			if c.Kind == CauseNotRecorded && c.Counted == 0 && n < *l.OpenCountedLessRecorded {
				c.Counted, c.Likely = 1, true
				n++
			}
		}
		*l.OpenCountedLessRecorded -= n
	}
}

// unrecordedOther explains a piece of a product that went without a record where
// a treatment should have used another of its category, has no record of it,
// and of that other not one is gone.
func (p *placeSpan) unrecordedOther() {
	ids := slices.SortedFunc(maps.Keys(p.lines), cmp.Compare[inventory.ProductID])
	for _, gone := range ids {
		for _, kept := range ids {
			from, to := p.lines[gone], p.lines[kept]
			if from == to || from.Category == "" || from.Category != to.Category || from.OpenCountedLessRecorded == nil || to.OpenCountedLessRecorded == nil {
				continue
			}
			n := min(to.unrecorded(), *from.OpenCountedLessRecorded, -*to.OpenCountedLessRecorded)
			if n <= 0 {
				continue
			}
			from.likely(CauseOtherProduct, n, 0, fmt.Sprintf("%d fewer here, and as many of %s used without a record that are not gone: this was used instead", n, kept))
			to.likely(CauseOtherProduct, -n, 0, fmt.Sprintf("%d used without a record and not gone, and as many fewer of %s: that was used instead", n, gone))
		}
	}
}
