package inventory_test

import (
	"context"
	"errors"
	"slices"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/inventorytest"
)

// A counter is a book of the small world in memory, for tests of counts.
type counter struct {
	*inventory.Book
	t  *testing.T
	at time.Time
}

func newCounter(t *testing.T) *counter {
	t.Helper()
	c := &counter{t: t, at: inventorytest.Start()}
	clock := func() time.Time { return c.at }
	c.Book = inventory.NewBook(inventorytest.NewMemory(clock), inventory.NewRegistry(inventory.Events()), clock)
	c.ok(c.SetProducts(context.Background(), c.by("admin"),
		inventory.Product{ID: "DLZ", Name: "Dialyzer", Category: inventory.Dialyzer},
		inventory.Product{ID: "NDL", Name: "Needle", Category: inventory.FistulaNeedle}))
	for _, p := range []inventory.LocationID{"room", "cart", "quarantine"} {
		c.ok(c.SetLocation(context.Background(), c.by("admin"), inventory.Location{ID: p, Name: string(p), Type: inventory.Cart}))
	}
	for _, l := range []struct {
		p   inventory.ProductID
		lot string
		n   int64
	}{{"DLZ", "D1", 20}, {"DLZ", "D2", 10}, {"NDL", "N1", 50}} {
		c.ok(c.Receive(context.Background(), c.by("stock"), inventory.Received{Stock: inventory.Stock{Product: l.p, Lot: l.lot, Quantity: l.n}, To: "cart"}))
	}
	return c
}

func (c *counter) by(actor string) inventory.Call {
	c.at = c.at.Add(time.Minute)
	return inventory.Call{Actor: actor}
}

func (c *counter) ok(r inventory.Receipt, err error) inventory.Event {
	c.t.Helper()
	if err != nil {
		c.t.Fatal(err)
	}
	ev, err := c.Registry().Decode(r.Entries[len(r.Entries)-1])
	if err != nil {
		c.t.Fatal(err)
	}
	return ev
}

func (c *counter) open(o inventory.SheetOpened) inventory.SheetID {
	c.t.Helper()
	o.Location = "cart"
	return c.ok(c.OpenSheet(context.Background(), c.by("stock"), o)).(*inventory.SheetOpened).Sheet
}

func (c *counter) note(actor string, s inventory.SheetID, lines ...inventory.SheetLine) {
	c.t.Helper()
	c.ok(c.NoteFound(context.Background(), c.by(actor), inventory.SheetLines{Sheet: s, Lines: lines}))
}

func (c *counter) finish(s inventory.SheetID, causes ...inventory.LotCause) inventory.Event {
	c.t.Helper()
	return c.ok(c.FinishSheet(context.Background(), c.by("stock"), inventory.Finishing{Sheet: s, Causes: causes}))
}

func found(p inventory.ProductID, lot string, n int64) inventory.SheetLine {
	return inventory.SheetLine{Product: p, Lot: lot, Pieces: n}
}

func (c *counter) balance(l inventory.Lot) (n int64) {
	c.t.Helper()
	err := c.View(context.Background(), func(r inventory.Reader) error {
		b, err := inventory.BalanceAt(r, "cart", l)
		n = b.Quantity
		return err
	})
	if err != nil {
		c.t.Fatal(err)
	}
	return n
}

// Two people count in parts; a lot that differs and one that nobody named are
// asked for again, then shown, then need a cause of the list.
func TestBlindCount(t *testing.T) {
	c := newCounter(t)
	s := c.open(inventory.SheetOpened{Complete: true})
	c.note("nurse", s, found("DLZ", "D1", 12))
	c.note("stock", s, found("DLZ", "D1", 5), found("NDL", "N1", 50))
	// Used while the count goes on: what was found before is less by it.
	c.ok(c.Consume(context.Background(), c.by("nurse"), inventory.Consumed{Stock: inventory.Stock{Product: "NDL", Lot: "N1", Quantity: 2}, From: "cart"}))
	again, ok := c.finish(s).(*inventory.SheetCompared)
	if !ok || again.State != inventory.SheetRecount || !slices.Equal(again.Again, []inventory.Lot{{Product: "DLZ", Number: "D1"}, {Product: "DLZ", Number: "D2"}}) {
		t.Fatalf("after the first count %+v", again)
	}
	_, err := c.FinishSheet(context.Background(), c.by("stock"), inventory.Finishing{Sheet: s})
	if !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("finished without the recount: %v", err)
	}
	c.note("nurse", s, found("DLZ", "D1", 18), found("DLZ", "D2", 10))
	if shown := c.finish(s).(*inventory.SheetCompared); shown.State != inventory.SheetCauses {
		t.Fatalf("after the recount %+v", shown)
	}
	_, err = c.FinishSheet(context.Background(), c.by("stock"), inventory.Finishing{Sheet: s, Causes: []inventory.LotCause{{Product: "DLZ", Lot: "D1", Cause: "whim"}}})
	if !errors.Is(err, inventory.ErrInvalid) {
		t.Errorf("a cause that is not on the list: %v", err)
	}
	done := c.finish(s, inventory.LotCause{Product: "DLZ", Lot: "D1", Cause: "not_written_down", Note: "night shift"}).(*inventory.Counted)
	if done.Sheet != s || !done.Complete || len(done.Lines) != 3 {
		t.Fatalf("the count %+v", done)
	}
	if l := done.Lines[0]; l.Counted != 18 || l.Book != 20 || l.CauseCode != "not_written_down" || l.Cause != "used and not written down: night shift" {
		t.Errorf("dialyzers %+v", l)
	}
	for l, n := range map[inventory.Lot]int64{{Product: "DLZ", Number: "D1"}: 18, {Product: "DLZ", Number: "D2"}: 10, {Product: "NDL", Number: "N1"}: 48} {
		if got := c.balance(l); got != n {
			t.Errorf("the balance of %v is %d, want %d", l, got, n)
		}
	}
	if _, err := c.NoteFound(context.Background(), c.by("nurse"), inventory.SheetLines{Sheet: s, Lines: []inventory.SheetLine{found("DLZ", "D1", 1)}}); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("noted on a finished sheet: %v", err)
	}
}

// A count of some products says nothing of others, and a partial one nothing of
// the lots that it does not name.
func TestWhatACountSaysNothingOf(t *testing.T) {
	c := newCounter(t)
	s := c.open(inventory.SheetOpened{})
	c.note("stock", s, found("DLZ", "D1", 20))
	if done := c.finish(s).(*inventory.Counted); done.Complete || len(done.Lines) != 1 {
		t.Errorf("a partial count %+v", done)
	}
	s = c.open(inventory.SheetOpened{Complete: true, Products: []inventory.ProductID{"DLZ"}})
	if _, err := c.NoteFound(context.Background(), c.by("stock"), inventory.SheetLines{Sheet: s, Lines: []inventory.SheetLine{found("NDL", "N1", 1)}}); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("another product is noted: %v", err)
	}
	c.note("stock", s, found("DLZ", "D1", 20))
	if again := c.finish(s).(*inventory.SheetCompared); !slices.Equal(again.Again, []inventory.Lot{{Product: "DLZ", Number: "D2"}}) {
		t.Fatalf("asked again %+v", again)
	}
	c.note("stock", s, found("DLZ", "D2", 0))
	c.finish(s)
	c.finish(s, inventory.LotCause{Product: "DLZ", Lot: "D2", Cause: "moved"})
	if d2, n1 := c.balance(inventory.Lot{Product: "DLZ", Number: "D2"}), c.balance(inventory.Lot{Product: "NDL", Number: "N1"}); d2 != 0 || n1 != 50 {
		t.Errorf("balances %d and %d", d2, n1)
	}
}

// The unit's own tolerance, rule and causes.
func TestCountingSettings(t *testing.T) {
	c := newCounter(t)
	set := inventory.DefaultCounting()
	set.TolerancePieces, set.ToleranceShare, set.ByAnother = 1, 100, true
	set.Causes = []inventory.CountCause{{Code: "mice", Text: "eaten by mice"}}
	c.ok(c.SetCounting(context.Background(), c.by("admin"), set))
	s := c.open(inventory.SheetOpened{})
	c.note("stock", s, found("DLZ", "D1", 18), found("DLZ", "D2", 7), found("NDL", "N1", 45)) // 10% may differ
	if again := c.finish(s).(*inventory.SheetCompared); !slices.Equal(again.Again, []inventory.Lot{{Product: "DLZ", Number: "D2"}}) {
		t.Fatalf("asked again %+v", again)
	}
	line := inventory.SheetLines{Sheet: s, Lines: []inventory.SheetLine{found("DLZ", "D2", 7)}}
	if _, err := c.NoteFound(context.Background(), c.by("stock"), line); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("counted again by the same person: %v", err)
	}
	c.note("nurse", s, line.Lines...)
	c.finish(s)
	done := c.finish(s, inventory.LotCause{Product: "DLZ", Lot: "D2", Cause: "mice"}).(*inventory.Counted)
	if done.Lines[0].CauseCode != "within_tolerance" || done.Lines[1].Cause != "eaten by mice" || done.Lines[2].CauseCode != "within_tolerance" {
		t.Errorf("lines %+v", done.Lines)
	}
	for name, change := range map[string]func(*inventory.Counting){
		"a tolerance below zero": func(s *inventory.Counting) { s.TolerancePieces = -1 },
		"a cause of another meaning": func(s *inventory.Counting) {
			s.Causes = []inventory.CountCause{{Code: "moved", Text: "stolen"}}
		},
		"B before A":       func(s *inventory.Counting) { s.Plan.BShare = 100 },
		"every 0 days":     func(s *inventory.Counting) { s.Plan.ADays = 0 },
		"a price of zero":  func(s *inventory.Counting) { s.Plan.Prices = []inventory.ProductPrice{{Product: "DLZ"}} },
		"an unknown price": func(s *inventory.Counting) { s.Plan.Prices = []inventory.ProductPrice{{Product: "X", Price: 1}} },
	} {
		bad := inventory.DefaultCounting()
		change(&bad)
		if _, err := c.SetCounting(context.Background(), c.by("admin"), bad); err == nil {
			t.Errorf("%s is taken", name)
		}
	}
}

// The list of what may lie there has lots that are used up too, so that it does
// not tell what the book has, and no quantities.
func TestMayLieThere(t *testing.T) {
	c := newCounter(t)
	c.ok(c.Consume(context.Background(), c.by("nurse"), inventory.Consumed{Stock: inventory.Stock{Product: "DLZ", Lot: "D2", Quantity: 10}, From: "cart"}))
	s := c.open(inventory.SheetOpened{Products: []inventory.ProductID{"DLZ"}})
	var lots []inventory.Lot
	err := c.View(context.Background(), func(r inventory.Reader) error {
		sheet, err := inventory.SheetByID(r, s)
		if err != nil {
			return err
		}
		lots, err = c.MayLieThere(r, sheet)
		return err
	})
	if err != nil || !slices.Equal(lots, []inventory.Lot{{Product: "DLZ", Number: "D1"}, {Product: "DLZ", Number: "D2"}}) {
		t.Errorf("lots %v (%v)", lots, err)
	}
}

// Classes by hand: of 1000 pieces the first, 700, begins at 0 and is A, the
// second, 150, begins at 700 and is A, the third, 100, begins at 850 and is B,
// the last, 50, begins at 950 and is C. Value turns it round.
func TestCountClasses(t *testing.T) {
	plan := inventory.DefaultCountPlan()
	moved := map[inventory.ProductID]int64{"P1": 700, "P2": 150, "P3": 100, "P4": 50, "P5": 0}
	want := map[inventory.ProductID]inventory.CountClass{"P1": "A", "P2": "A", "P3": "B", "P4": "C", "P5": "C"}
	for _, c := range plan.Classify(moved) {
		if c.Class != want[c.Product] {
			t.Errorf("%s is %s: %+v", c.Product, c.Class, c)
		}
	}
	plan.Prices = []inventory.ProductPrice{{Product: "P1", Price: 1}, {Product: "P4", Price: 1000}}
	want = map[inventory.ProductID]inventory.CountClass{"P4": "A", "P1": "C", "P2": "A", "P3": "A", "P5": "C"}
	for _, c := range plan.Classify(moved) { // P2 and P3 are ranked among those without a price: 150 and 100
		if c.Class != want[c.Product] {
			t.Errorf("by value %s is %s: %+v", c.Product, c.Class, c)
		}
	}
}

// Over 91 days each product of a class has its turns, evenly, and a count moves
// the next one.
func TestCountPlanIsSpread(t *testing.T) {
	c := newCounter(t)
	day := inventory.DateOf(c.at, time.UTC).AddDays(1)
	turns := map[inventory.ProductID]int{}
	for range 91 {
		p, err := c.PlanCounts(context.Background(), day, "cart")
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range p.Due {
			turns[d.Product]++
			c.at, _ = time.Parse(time.DateOnly, string(day))
			c.ok(c.Count(context.Background(), inventory.Call{Actor: "stock"}, inventory.Counted{Location: "cart", Lines: []inventory.CountLine{{Product: d.Product, Lot: "X", Counted: 0}}}))
		}
		if after, err := c.PlanCounts(context.Background(), day, "cart"); err != nil || len(after.Due) != 0 {
			t.Fatalf("still due on %s after the count: %+v (%v)", day, after.Due, err)
		}
		day = day.AddDays(1)
	}
	// Nothing was used, so both are of class C: once in 91 days.
	if turns["DLZ"] != 1 || turns["NDL"] != 1 {
		t.Errorf("turns %v", turns)
	}
	if _, err := c.PlanCounts(context.Background(), "soon", ""); !errors.Is(err, inventory.ErrInvalid) {
		t.Errorf("no date: %v", err)
	}
	if _, err := c.PlanCounts(context.Background(), day, "attic"); !errors.Is(err, inventory.ErrNotFound) {
		t.Errorf("no place: %v", err)
	}
}
