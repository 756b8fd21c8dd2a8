package inventory_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/inventorytest"
)

// GTINs are invented, in the range that GS1 keeps for documentation.
const (
	gtinEach  = "09506000100012"
	gtinInner = "19506000100019"
	gtinCase  = "29506000100016"
	gtinOther = "09506000100029"
	ssccOne   = "395060001000000013"
	ssccTwo   = "395060001000000020"
)

// A dock is where deliveries come: a book with a dialyzer in three packs and
// needles, a room and a place of quarantine.
type dock struct {
	*shelf
	minute int
}

func newDock(t *testing.T) *dock {
	t.Helper()
	d := &dock{shelf: newShelf(t)}
	d.ok(d.SetProducts(t.Context(), d.at(0), inventory.Product{ID: "DLZ", Name: "Dialyzer", Category: inventory.Dialyzer, Packs: []inventory.Pack{
		{Level: "each", GTIN: gtinEach, Holds: 1}, {Level: "inner", GTIN: gtinInner, Holds: 6}, {Level: "case", GTIN: gtinCase, Holds: 24},
	}}, inventory.Product{ID: "NDL", Name: "Needle", Category: inventory.FistulaNeedle}))
	d.ok(d.SetLocation(t.Context(), d.at(0), inventory.Location{ID: "held", Name: "Held", Type: inventory.Quarantine}))
	return d
}

func (d *dock) order(id string, pieces int64) {
	d.t.Helper()
	d.ok(d.PlaceOrder(d.t.Context(), d.at(0), inventory.Order{ID: inventory.OrderID(id), Supplier: "Invented Supplies", Lines: []inventory.OrderLine{{Product: "DLZ", Quantity: pieces}}}))
}

// line is a label of a pack and how often it was there; change says more of it.
func line(gtin, lot string, packs int64, change ...func(*inventory.DeliveryLine)) inventory.DeliveryLine {
	l := inventory.DeliveryLine{Stock: inventory.Stock{GTIN: gtin, Lot: lot, Expires: "2031-12-31", Packs: packs}, To: "room"}
	for _, fn := range change {
		fn(&l)
	}
	return l
}

func answered(answer, why string, codes ...string) func(*inventory.DeliveryLine) {
	return func(l *inventory.DeliveryLine) { l.Answer, l.Why, l.Confirm = answer, why, codes }
}

func unit(sscc string) func(*inventory.DeliveryLine) {
	return func(l *inventory.DeliveryLine) { l.Unit = sscc }
}

// deliver sends a delivery, a minute after the one before.
func (d *dock) deliver(order string, lines ...inventory.DeliveryLine) (inventory.Receipt, error) {
	d.minute++
	return d.Deliver(d.t.Context(), d.at(d.minute), inventory.Delivery{Order: inventory.OrderID(order), Lines: lines})
}

// asks says which questions a delivery must be met with, those of line i as
// "i code"; none if it must be recorded.
func (d *dock) asks(rec inventory.Receipt, err error, want ...string) inventory.Receipt {
	d.t.Helper()
	var got []string
	var open *inventory.OpenQuestions
	if errors.As(err, &open) {
		for _, q := range open.Checked.Questions {
			got = append(got, q.Code)
		}
		for i, l := range open.Checked.Lines {
			for _, q := range l.Questions {
				got = append(got, fmt.Sprint(i+1, " ", q.Code))
				if q.Message == "" || len(q.Answers) == 0 {
					d.t.Errorf("%+v says nothing", q)
				}
			}
		}
	} else if err != nil {
		d.t.Fatal(err)
	}
	if !slices.Equal(got, want) {
		d.t.Fatalf("asked %q, want %q", got, want)
	}
	return rec
}

// state returns an order as it stands.
func (d *dock) state(id string) (s *inventory.OrderState) {
	d.t.Helper()
	if err := d.View(d.t.Context(), func(r inventory.Reader) (err error) {
		s, err = inventory.OrderByID(r, inventory.OrderID(id))
		return err
	}); err != nil || s == nil {
		d.t.Fatal(s, err)
	}
	return s
}

func (d *dock) onHand(loc inventory.LocationID, lot string) (n int64) {
	d.t.Helper()
	if err := d.View(d.t.Context(), func(r inventory.Reader) error {
		b, err := inventory.BalanceAt(r, loc, inventory.Lot{Product: "DLZ", Number: lot})
		n = b.Quantity
		return err
	}); err != nil {
		d.t.Fatal(err)
	}
	return n
}

func (d *dock) want(id string, status inventory.OrderStatus, came, open, over int64) {
	d.t.Helper()
	s := d.state(id)
	if p := s.Progress[0]; s.Status != status || p.Came != came || p.Open != open || p.Over != over {
		d.t.Errorf("order %s is %s, %d came, %d open, %d over; want %s, %d, %d, %d", id, s.Status, p.Came, p.Open, p.Over, status, came, open, over)
	}
}

// An order goes from open over part received to complete, and over, as pieces
// come; a delivery struck out counts no more.
func TestAnOrdersState(t *testing.T) {
	d := newDock(t)
	d.order("PO-1", 72)
	d.want("PO-1", inventory.OrderOpen, 0, 72, 0)
	first := d.taken(d.deliver("PO-1", line(gtinCase, "L1", 2)))
	d.want("PO-1", inventory.OrderPart, 48, 24, 0)
	if got := d.onHand("room", "L1"); got != 48 {
		t.Errorf("2 cases of 24 are %d", got)
	}
	second := d.taken(d.deliver("PO-1", line(gtinCase, "L2", 1)))
	d.want("PO-1", inventory.OrderComplete, 72, 0, 0)
	rec, err := d.deliver("PO-1", line(gtinCase, "L3", 1))
	d.asks(rec, err, "1 over")
	rec, err = d.deliver("PO-1", line(gtinCase, "L3", 1, answered(inventory.Accept, "kept", "over")))
	d.asks(rec, err)
	d.want("PO-1", inventory.OrderOver, 96, 0, 24)
	d.correct(second.Entries[0].Seq)
	d.want("PO-1", inventory.OrderComplete, 72, 0, 0)
	d.correct(first.Entries[0].Seq)
	d.want("PO-1", inventory.OrderPart, 24, 48, 0)
	if got := d.onHand("room", "L1"); got != 0 {
		t.Errorf("struck out, and %d are on hand", got)
	}
}

func (d *dock) taken(rec inventory.Receipt, err error) inventory.Receipt {
	d.t.Helper()
	return d.asks(rec, err)
}

// What is in force of an order goes by when it happened, whenever it was
// recorded; and what comes with the number of an order that is recorded later
// counts for it.
func TestOrdersRecordedLate(t *testing.T) {
	d := newDock(t)
	ctx := t.Context()
	rec, err := d.deliver("PO-9", line(gtinCase, "L1", 1))
	d.asks(rec, err, "order_unknown")
	d.ok(d.Deliver(ctx, d.at(20), inventory.Delivery{Order: "PO-9", Confirm: []string{"order_unknown"}, Lines: []inventory.DeliveryLine{line(gtinCase, "L1", 1)}}))
	d.ok(d.PlaceOrder(ctx, d.at(5), inventory.Order{ID: "PO-9", Supplier: "Invented Supplies", Lines: []inventory.OrderLine{{GTIN: gtinCase, Packs: 3}}}))
	d.want("PO-9", inventory.OrderPart, 24, 48, 0)
	change := func(minute int, pieces int64) inventory.Receipt {
		rec, err := d.ChangeOrder(ctx, d.at(minute), inventory.Order{ID: "PO-9", Supplier: "Invented Supplies", Lines: []inventory.OrderLine{{Product: "DLZ", Quantity: pieces}}}, "fewer needed")
		if err != nil {
			t.Fatal(err)
		}
		return rec
	}
	change(40, 24)
	d.want("PO-9", inventory.OrderComplete, 24, 0, 0)
	change(30, 48) // happened before the other change: that one stays in force
	d.want("PO-9", inventory.OrderComplete, 24, 0, 0)
	cancel := d.ok(d.CancelOrder(ctx, d.at(50), "PO-9", "not needed"))
	d.want("PO-9", inventory.OrderWithdrawn, 24, 0, 0)
	change(45, 48) // happened before it was cancelled: it stays so
	d.want("PO-9", inventory.OrderWithdrawn, 24, 24, 0)
	again := inventory.Order{ID: "PO-9", Supplier: "Invented Supplies", Lines: []inventory.OrderLine{{Product: "DLZ", Quantity: 72}}}
	if _, err := d.ChangeOrder(ctx, d.at(52), again, "needed after all"); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("a cancelled order was changed without a question: %v", err)
	}
	placed := d.ok(d.ChangeOrder(ctx, d.at(52), again, "needed after all", inventory.AskCancelled))
	d.want("PO-9", inventory.OrderPart, 24, 48, 0)
	d.correct(placed)
	d.want("PO-9", inventory.OrderWithdrawn, 24, 24, 0)
	rec, err = d.Deliver(ctx, d.at(58), inventory.Delivery{Order: "PO-9", Lines: []inventory.DeliveryLine{line(gtinCase, "L2", 1)}})
	d.asks(rec, err, "order_cancelled")
	d.correct(cancel)
	d.want("PO-9", inventory.OrderPart, 24, 24, 0)
}

// Each way in which a line can be wrong is asked about, has its answer, and the
// answer is in the entry.
func TestEachAnswer(t *testing.T) {
	damaged := func(l *inventory.DeliveryLine) { l.Damaged = "a corner is wet" }
	expires := func(on inventory.Date) func(*inventory.DeliveryLine) {
		return func(l *inventory.DeliveryLine) { l.Expires = on }
	}
	soon := inventory.DateOf(inventorytest.Start().AddDate(0, 0, 20), time.UTC)
	for _, tc := range []struct {
		code string
		line inventory.DeliveryLine
	}{
		{"damaged", line(gtinCase, "L1", 1, damaged)},
		{"expired", line(gtinCase, "L1", 1, expires("2001-01-31"))},
		{"short_dated", line(gtinCase, "L1", 1, expires(soon))},
		{"held", line(gtinCase, "HELD", 1)},
		{"over", line(gtinCase, "L1", 2)},
		{"wrong_product", inventory.DeliveryLine{Stock: inventory.Stock{Product: "NDL", Lot: "N1", Expires: "2031-12-31", Quantity: 5}, To: "room"}},
	} {
		for _, answer := range []string{inventory.Accept, inventory.IntoHold, inventory.Refuse} {
			t.Run(tc.code+" "+answer, func(t *testing.T) {
				d := newDock(t)
				d.order("PO-1", 24)
				d.ok(d.Hold(t.Context(), d.at(0), inventory.Held{Product: "DLZ", Lots: []string{"HELD"}, Reason: "a notice"}))
				l := tc.line
				rec, err := d.deliver("PO-1", l)
				d.asks(rec, err, "1 "+tc.code)
				l.Answer, l.Why = answer, "as the supplier said"
				if answer == inventory.Accept {
					rec, err = d.deliver("PO-1", l) // accepting needs the word of somebody who was told
					d.asks(rec, err, "1 "+tc.code)
					l.Confirm = []string{tc.code}
				}
				rec, err = d.deliver("PO-1", l)
				d.asks(rec, err)
				ev, err := d.Registry().Decode(rec.Entries[0])
				if err != nil {
					t.Fatal(err)
				}
				want := []inventory.Answered{{Question: tc.code, Answer: answer, Why: "as the supplier said"}}
				switch v := ev.(type) {
				case *inventory.Received:
					place := map[string]inventory.LocationID{inventory.Accept: "room", inventory.IntoHold: "held"}[answer]
					if answer == inventory.Refuse || v.To != place || !slices.Equal(v.Answers, want) {
						t.Errorf("%+v", v)
					}
				case *inventory.Refused:
					if answer != inventory.Refuse || !slices.Equal(v.Answers, want) || !strings.Contains(v.Cause, "as the supplier said") {
						t.Errorf("%+v", v)
					}
					if d.onHand("room", v.Lot)+d.onHand("held", v.Lot) != 0 {
						t.Error("refused, and on hand")
					}
					if tc.code != "wrong_product" && d.state("PO-1").Progress[0].Refused != v.Quantity {
						t.Errorf("the order does not show it: %+v", d.state("PO-1"))
					}
				default:
					t.Errorf("%T", ev)
				}
			})
		}
	}
}

// A GTIN that nobody knows is taken under its number, with the pieces that a
// person counted in a pack.
func TestUnknownGTINArrives(t *testing.T) {
	d := newDock(t)
	l := line(gtinOther, "U1", 2)
	rec, err := d.deliver("", l)
	d.asks(rec, err, "1 holds_unknown")
	l.PackHolds = 10
	rec, err = d.deliver("", l)
	d.asks(rec, err, "1 unknown_product")
	// The case of a product whose other packs are known is not taken for them,
	// but pointed out.
	pallet := line("39506000100013", "U1", 1)
	pallet.PackHolds = 96
	rec, err = d.deliver("", pallet)
	d.asks(rec, err, "1 unknown_product")
	var open *inventory.OpenQuestions
	if errors.As(err, &open) && !strings.Contains(open.Checked.Lines[0].Questions[0].Message, "a pack (each) of Dialyzer") {
		t.Errorf("%+v", open.Checked.Lines[0].Questions)
	}
	l.Answer, l.Confirm = inventory.Accept, []string{"unknown_product"}
	rec, err = d.deliver("", l)
	d.asks(rec, err)
	ev, err := d.Registry().Decode(rec.Entries[0])
	if v, ok := ev.(*inventory.Received); err != nil || !ok || v.Product != inventory.ProvisionalID(gtinOther) || v.Quantity != 20 || v.Packs != 2 {
		t.Errorf("%+v, %v", ev, err)
	}
}

// What is lacking stays open or is closed, as somebody says; also where nothing
// of the line came.
func TestShortDeliveries(t *testing.T) {
	for rest, want := range map[string]inventory.OrderStatus{inventory.AwaitRest: inventory.OrderPart, inventory.CloseRest: inventory.OrderComplete} {
		d := newDock(t)
		d.order("PO-1", 72)
		l := line(gtinCase, "L1", 2)
		l.NotedPacks = 3
		rec, err := d.deliver("PO-1", l)
		d.asks(rec, err, "1 short")
		l.Rest = rest
		rec, err = d.deliver("PO-1", l)
		d.asks(rec, err)
		if len(rec.Entries) != 2 || d.state("PO-1").Status != want {
			t.Errorf("%s: %d entries, %s", rest, len(rec.Entries), d.state("PO-1").Status)
		}
		d.correct(rec.Entries[1].Seq)
		d.want("PO-1", inventory.OrderPart, 48, 24, 0)
	}
	d := newDock(t)
	d.order("PO-1", 24)
	rec, err := d.deliver("PO-1", inventory.DeliveryLine{Stock: inventory.Stock{Product: "DLZ"}, Noted: 24, Rest: inventory.CloseRest})
	d.asks(rec, err)
	d.want("PO-1", inventory.OrderComplete, 0, 0, 0)
}

// No pack's content is posted twice without a question: not by its label again,
// not by its case and then what is inside, not by a pallet and its cases.
func TestNothingIsTakenInTwice(t *testing.T) {
	serial := func(s string) func(*inventory.DeliveryLine) {
		return func(l *inventory.DeliveryLine) { l.Serial = s }
	}
	for name, tc := range map[string]struct {
		first, then inventory.DeliveryLine
		want        string
	}{
		"the same SSCC":     {line(gtinCase, "L1", 4, unit(ssccOne)), line(gtinCase, "L1", 4, unit(ssccOne)), "label_again"},
		"another SSCC":      {line(gtinCase, "L1", 4, unit(ssccOne)), line(gtinCase, "L1", 4, unit(ssccTwo)), ""},
		"the same serial":   {line(gtinCase, "L1", 1, serial("7")), line(gtinCase, "L1", 1, serial("7")), "label_again"},
		"another serial":    {line(gtinCase, "L1", 1, serial("7")), line(gtinCase, "L1", 1, serial("8")), ""},
		"case, then inner":  {line(gtinCase, "L1", 1), line(gtinInner, "L1", 4), "contained"},
		"inner, then case":  {line(gtinInner, "L1", 4), line(gtinCase, "L1", 1), "contained"},
		"case, then each":   {line(gtinCase, "L1", 1), line(gtinEach, "L1", 1), "contained"},
		"pallet, then case": {line(gtinCase, "L1", 4, unit(ssccOne)), line(gtinCase, "L1", 1), "contained"},
		"case, then pallet": {line(gtinCase, "L1", 1), line(gtinCase, "L1", 4, unit(ssccOne)), "contained"},
		"the same line":     {line(gtinCase, "L1", 2), line(gtinCase, "L1", 2), "line_again"},
		"another lot":       {line(gtinCase, "L1", 2), line(gtinInner, "L2", 2), ""},
	} {
		t.Run(name, func(t *testing.T) {
			var want []string
			if tc.want != "" {
				want = []string{"1 " + tc.want}
			}
			d := newDock(t)
			first := d.taken(d.deliver("", tc.first))
			rec, err := d.deliver("", tc.then)
			d.asks(rec, err, want...)
			// The same within one delivery.
			e := newDock(t)
			if len(want) > 0 {
				want[0] = "2 " + tc.want
			}
			rec, err = e.deliver("", tc.first, tc.then)
			e.asks(rec, err, want...)
			if tc.want == "" {
				return
			}
			// Somebody may say that they are further ones, and what was struck
			// out is in nobody's way.
			again := tc.then
			again.Confirm = []string{tc.want}
			d.correct(first.Entries[0].Seq)
			d.taken(d.deliver("", tc.then))
			f := newDock(t)
			f.taken(f.deliver("", tc.first))
			f.taken(f.deliver("", again))
		})
	}
}

// Receipts that ask nothing do not take a label twice either.
func TestReceiveTakesNoLabelTwice(t *testing.T) {
	d := newDock(t)
	v := inventory.Received{Stock: inventory.Stock{GTIN: gtinCase, Lot: "L1", Packs: 2}, To: "room", Papers: inventory.Papers{Unit: ssccOne}}
	d.ok(d.Receive(t.Context(), d.at(1), v))
	var ref *inventory.Refusal
	if _, err := d.Receive(t.Context(), d.at(2), v); !errors.As(err, &ref) || ref.Code != "label_received_before" {
		t.Errorf("%v", err)
	}
	v.Unit = ssccTwo
	if _, err := d.Receive(t.Context(), d.at(2), v, v); !errors.As(err, &ref) || ref.Code != "label_received_before" {
		t.Errorf("%v", err)
	}
	v.Unit, v.Again = ssccOne, true
	d.ok(d.Receive(t.Context(), d.at(3), v))
	if got := d.onHand("room", "L1"); got != 96 {
		t.Errorf("%d on hand", got)
	}
}

// "A box of 100 scanned with quantity 2 posts 200": both ways of it are asked
// about, with packs, what one holds and pieces in sight.
func TestQuantitiesThatAreSlips(t *testing.T) {
	d := newDock(t)
	// Two pieces of a box.
	two := line(gtinCase, "L1", 0)
	two.Quantity = 2
	rec, err := d.deliver("", two)
	d.asks(rec, err, "1 part_of_pack")
	two.Confirm = []string{"part_of_pack"}
	d.taken(d.deliver("", two))
	// 48 packs where 48 pieces were ordered.
	d.order("PO-1", 48)
	rec, err = d.deliver("PO-1", line(gtinCase, "L2", 48))
	d.asks(rec, err, "1 over", "1 quantity_implausible")
	var open *inventory.OpenQuestions
	if errors.As(err, &open) {
		c := open.Checked.Lines[0]
		if c.Packs != 48 || c.Holds != 24 || c.Quantity != 1152 || !strings.Contains(c.Questions[1].Message, "48 packs × 24 = 1152 pieces, and 48 pieces were ordered") {
			t.Errorf("%+v", c)
		}
	}
	// Without an order: many times what usually comes.
	for i := range 3 {
		d.taken(d.deliver("", line(gtinCase, fmt.Sprint("U", i), 2)))
	}
	d.taken(d.deliver("", line(gtinCase, "U8", 10)))
	rec, err = d.deliver("", line(gtinCase, "U9", 60))
	d.asks(rec, err, "1 quantity_implausible")
	// The label's own count against the catalogue's.
	count := line(gtinCase, "C1", 1)
	count.PackHolds = 20
	rec, err = d.deliver("", count)
	d.asks(rec, err, "1 count_differs")
}

// Two clerks who unpack the same delivery at the same time take it in once.
func TestTwoClerksAtOnce(t *testing.T) {
	d := newDock(t)
	d.order("PO-1", 48)
	const clerks = 8
	errs := make([]error, clerks)
	var wg sync.WaitGroup
	for i := range clerks {
		wg.Go(func() {
			call := d.at(1)
			call.Actor = fmt.Sprint("clerk-", i)
			_, errs[i] = d.Deliver(t.Context(), call, inventory.Delivery{Order: "PO-1", Lines: []inventory.DeliveryLine{line(gtinCase, "L1", 2)}})
		})
	}
	wg.Wait()
	taken := 0
	for _, err := range errs {
		var open *inventory.OpenQuestions
		switch {
		case err == nil:
			taken++
		case !errors.As(err, &open):
			t.Error(err)
		}
	}
	if taken != 1 || d.onHand("room", "L1") != 48 {
		t.Errorf("taken %d times, %d on hand", taken, d.onHand("room", "L1"))
	}
	d.want("PO-1", inventory.OrderComplete, 48, 0, 0)
}

// GS1's worked examples of the check digit: General Specifications 7.9.1, table
// 7-9 (18 digits, 37610425002123456 → 9), and "How to calculate a check digit
// manually" (GTIN-13, 629104150021 → 3).
func TestCheckDigits(t *testing.T) {
	if !inventory.ValidSSCC("376104250021234569") || inventory.ValidSSCC("376104250021234560") || inventory.ValidSSCC("37610425002123456") {
		t.Error("the SSCC of GS1's example")
	}
	if !inventory.ValidGTIN14("06291041500213") || inventory.ValidGTIN14("06291041500214") {
		t.Error("the GTIN of GS1's example")
	}
	d := newDock(t)
	if _, err := d.deliver("", line(gtinCase, "L1", 1, unit("376104250021234560"))); !errors.Is(err, inventory.ErrInvalid) {
		t.Errorf("an SSCC with a wrong check digit: %v", err)
	}
}
