package inventory

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"time"

	"lotbook/inventory/rowcode"
)

// OpenSheet opens a count sheet; its id is made here.
func (b *Book) OpenSheet(ctx context.Context, call Call, o SheetOpened) (Receipt, error) {
	o.Sheet = ""
	return b.Record(ctx, call, o, func(r Reader) ([]Event, error) {
		ev := o
		ev.Sheet = SheetID("C" + strconv.FormatUint(r.Head().Seq+1, 10))
		if _, err := LocationByID(r, ev.Location); err != nil {
			return nil, err
		}
		for _, id := range ev.Products {
			p, err := b.Product(r, id)
			if err != nil {
				return nil, err
			}
			if p == nil && !id.Provisional() {
				return nil, NotFound("product", string(id), "Choose a product of the catalogue.")
			}
		}
		at := call.Happened
		if at.IsZero() {
			at = b.now()
		}
		return []Event{&ev}, b.checkShift(r, ev.Shift, at)
	})
}

// sheetIn returns a sheet that can still be written on.
func sheetIn(r Reader, id SheetID) (*Sheet, error) {
	s, err := SheetByID(r, id)
	if err != nil {
		return nil, err
	}
	if s.State == SheetDone || s.State == SheetDropped {
		return nil, Conflict("sheet_finished", "Open another one.", "count sheet %s is finished", id)
	}
	return s, nil
}

// NoteFound adds what a person found to a sheet. After a recount was asked for,
// what is noted of a lot that was asked for is its recount.
func (b *Book) NoteFound(ctx context.Context, call Call, l SheetLines) (Receipt, error) {
	l.Recount = false
	return b.Record(ctx, call, l, func(r Reader) ([]Event, error) {
		s, err := sheetIn(r, l.Sheet)
		if err != nil {
			return nil, err
		}
		rules, err := CountingOf(r)
		if err != nil {
			return nil, err
		}
		if len(l.Lines) == 0 {
			return nil, Invalid("lines", "Give what was found.", "there are no lines")
		}
		first, again := SheetLines{Sheet: l.Sheet}, SheetLines{Sheet: l.Sheet, Recount: true}
		err = EachLine(len(l.Lines), func(i int) error {
			x := l.Lines[i]
			if x.Pieces < 0 {
				return Invalid("pieces", "Give the pieces that were found, 0 or more.", "a count of %d", x.Pieces)
			}
			st := Stock{Product: x.Product, Lot: x.Lot, Expires: x.Expires, Quantity: 1}
			if err := b.resolve(r, &st); err != nil {
				return err
			}
			x.Product, x.Lot = st.Product, st.Lot
			if !s.covers(x.Product) {
				return Conflict("not_on_sheet", "Open a sheet for it.", "count sheet %s is not for product %s", s.ID, x.Product)
			}
			if !slices.Contains(s.Again, st.lot()) {
				first.Lines = append(first.Lines, x)
				return nil
			}
			if rules.ByAnother && slices.ContainsFunc(s.Found, func(f Found) bool { return f.lot() == st.lot() && f.By == call.Actor && !f.Recount }) {
				return Conflict("recount_by_another", "Have somebody else count it.", "lot %s was counted by %s before", x.Lot, call.Actor)
			}
			again.Lines = append(again.Lines, x)
			return nil
		})
		if err != nil {
			return nil, err
		}
		var evs []Event
		for _, part := range []*SheetLines{&first, &again} {
			if len(part.Lines) > 0 {
				evs = append(evs, part)
			}
		}
		return evs, nil
	})
}

// DropSheet gives a sheet up.
func (b *Book) DropSheet(ctx context.Context, call Call, d SheetGivenUp) (Receipt, error) {
	return b.Record(ctx, call, d, func(r Reader) ([]Event, error) {
		if d.Reason == "" {
			return nil, Invalid("reason", "Say why.", "a sheet that is given up needs a reason")
		}
		_, err := sheetIn(r, d.Sheet)
		return []Event{&d}, err
	})
}

// A Finishing asks to make a sheet a count.
type Finishing struct {
	Sheet SheetID `json:"sheet"`
	// Causes of the differences, once they are shown.
	Causes []LotCause `json:"causes,omitempty"`
}

// A LotCause is a cause of a lot's difference: a code of the list, and a note.
type LotCause struct {
	Product ProductID `json:"product"`
	Lot     string    `json:"lot,omitempty"`
	Cause   string    `json:"cause"`
	Note    string    `json:"note,omitempty"`
}

// FinishSheet compares a sheet with the book. The receipt's one entry is a
// SheetCompared if lots must be counted again, or if differences need causes;
// otherwise it is the Counted that the sheet became.
func (b *Book) FinishSheet(ctx context.Context, call Call, f Finishing) (Receipt, error) {
	return b.Record(ctx, call, f, func(r Reader) ([]Event, error) {
		s, err := sheetIn(r, f.Sheet)
		if err != nil {
			return nil, err
		}
		rules, err := CountingOf(r)
		if err != nil {
			return nil, err
		}
		now, err := b.momentOf(r, call)
		if err != nil {
			return nil, err
		}
		lines, err := sheetLines(r, s, now)
		if err != nil {
			return nil, err
		}
		if len(lines) == 0 && !s.Complete {
			return nil, Invalid("lines", "Note what was found first.", "count sheet %s has no lines", s.ID)
		}
		return b.finish(s, &rules, lines, f.Causes)
	})
}

// finish decides what becomes of a sheet's lines.
func (b *Book) finish(s *Sheet, rules *Counting, lines []CountLine, causes []LotCause) ([]Event, error) {
	var again, lacking, open []Lot
	for i := range lines {
		l := &lines[i]
		lot := Lot{l.Product, l.Lot}
		recounted := slices.ContainsFunc(s.Found, func(f Found) bool { return f.Recount && f.lot() == lot })
		asked := slices.Contains(s.Again, lot)
		if asked && !recounted {
			lacking = append(lacking, lot)
		}
		if l.Counted == l.Book {
			continue
		}
		if rules.tolerates(l.Counted, l.Book) {
			l.CauseCode, l.Cause = withinTolerance.Code, withinTolerance.Text
			continue
		}
		if !asked {
			again = append(again, lot)
			continue
		}
		i := slices.IndexFunc(causes, func(c LotCause) bool { return c.Product == l.Product && c.Lot == l.Lot })
		if i < 0 {
			open = append(open, lot)
			continue
		}
		c, err := rules.cause(causes[i].Cause)
		if err != nil {
			return nil, err
		}
		l.CauseCode, l.Cause = c.Code, c.Text
		if causes[i].Note != "" {
			l.Cause += ": " + causes[i].Note
		}
	}
	switch {
	case len(lacking) > 0 && s.State != SheetCounting:
		return nil, Conflict("recount_missing", "Count it again, and note 0 if there is none.", "lot %s of %s was asked for again and is not noted", lacking[0].Number, lacking[0].Product)
	case len(again) > 0:
		return []Event{&SheetCompared{s.ID, SheetRecount, again}}, nil
	case len(open) > 0:
		return []Event{&SheetCompared{s.ID, SheetCauses, nil}}, nil
	}
	return []Event{&Counted{Location: s.Location, Lines: lines, Complete: s.Complete && len(s.Products) == 0, Shift: s.Shift, Sheet: s.ID}}, nil
}

// sheetLines are a sheet's lines as they would be counted at a moment: what was
// found of each lot, and what was recorded as moved since then.
func sheetLines(r Reader, s *Sheet, now moment) ([]CountLine, error) {
	var lines []CountLine
	at := map[Lot]int{}
	last := map[Lot]moment{}
	for i := range s.Found {
		f := &s.Found[i]
		if !f.Recount && slices.ContainsFunc(s.Found, func(x Found) bool { return x.Recount && x.lot() == f.lot() }) {
			continue
		}
		k, ok := at[f.lot()]
		if !ok {
			k = len(lines)
			at[f.lot()] = k
			lines = append(lines, CountLine{Product: f.Product, Lot: f.Lot, Expires: f.Expires})
		}
		lines[k].Counted += f.Pieces
		if m := (moment{f.At, f.Entry}); last[f.lot()].before(m) {
			last[f.lot()] = m
		}
	}
	for i := range lines {
		l := &lines[i]
		lot := Lot{l.Product, l.Lot}
		then, err := quantityBefore(r, s.Location, lot, last[lot])
		if err != nil {
			return nil, err
		}
		if l.Book, err = balanceBefore(r, s.Location, lot, now); err != nil {
			return nil, err
		}
		l.Counted = max(0, l.Counted+l.Book-then)
	}
	if s.Complete {
		there, err := thereBefore(r, s.Location, now)
		if err != nil {
			return nil, err
		}
		for _, bal := range there {
			if _, ok := at[bal.Lot]; !ok && s.covers(bal.Lot.Product) {
				lines = append(lines, CountLine{Product: bal.Lot.Product, Lot: bal.Lot.Number, Book: bal.Quantity, Unnamed: true})
			}
		}
	}
	slices.SortFunc(lines, func(a, b CountLine) int {
		return cmp.Or(cmp.Compare(a.Product, b.Product), cmp.Compare(a.Lot, b.Lot))
	})
	return lines, nil
}

// Compared returns a sheet's lines beside the book as it is now, for whoever may
// see what is expected, or once it was counted twice.
func (b *Book) Compared(r Reader, id SheetID) ([]CountLine, error) {
	s, err := SheetByID(r, id)
	if err != nil {
		return nil, err
	}
	now, err := b.momentOf(r, Call{})
	if err != nil {
		return nil, err
	}
	return sheetLines(r, s, now)
}

// lately is how long a lot that is used up stays on the list of what may lie at
// a place, so that the list does not tell what the book has.
const lately = 30 * 24 * time.Hour

// MayLieThere returns the lots that a person may find for a sheet, by product and
// lot, without quantities: those that the book has there, and those that it had
// lately.
func (b *Book) MayLieThere(r Reader, s *Sheet) ([]Lot, error) {
	var lots []Lot
	since := b.now().Add(-lately)
	err := r.Scan(ixBalance, rowcode.AppendText(nil, string(s.Location)), nil, func(key, _ []byte) error {
		k := rowcode.ReadKey(key)
		k.Text()
		l := lotFromKey(k)
		if err := k.Err(); err != nil {
			return err
		}
		bal, err := getBalance(r, key)
		if s.covers(l.Product) && (bal.quantity != 0 || bal.latest.at.After(since)) {
			lots = append(lots, l)
		}
		return err
	})
	slices.SortFunc(lots, func(a, b Lot) int {
		return cmp.Or(cmp.Compare(a.Product, b.Product), cmp.Compare(a.Number, b.Number))
	})
	return lots, err
}
