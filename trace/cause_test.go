package trace_test

import (
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// lines reconciles a span and returns its lines by place and product.
func (u *unit) lines(s trace.Span) map[string]trace.Line {
	u.t.Helper()
	rec, err := u.ReconcileSpan(ctx, s)
	if err != nil {
		u.t.Fatal(err)
	}
	m := map[string]trace.Line{}
	for _, l := range rec.Lines {
		m[string(l.Location)+" "+string(l.Product)] = l
	}
	return m
}

func morning() inventory.Shift { return inventory.Shift{Date: "2026-03-02", Number: 1} }

func (u *unit) count(loc inventory.LocationID, s *inventory.Shift, lines ...inventory.CountLine) {
	u.t.Helper()
	u.clock.pass(time.Minute)
	u.ok(u.Count(ctx, u.by("stock"), inventory.Counted{Location: loc, Complete: true, Shift: s, Lines: lines}))
}

func kinds(l trace.Line) string {
	var ks []string
	for _, c := range l.Causes {
		ks = append(ks, string(c.Kind))
	}
	return strings.Join(ks, " ")
}

// run opens a treatment of a planned length, scans bottles of concentrate, and
// closes it after its real length.
func (u *unit) run(planned, real int64, bottles int) trace.TreatmentID {
	u.t.Helper()
	rx := prescription()
	rx.Minutes = planned
	id := event[*trace.Opened](u, u.ok(u.Open(ctx, u.by("nurse"), trace.Opening{Patient: "P1", Station: "S1", Prescription: &rx, Another: true}))).Treatment
	for range bottles {
		u.scan(id, gtinAcid2K, "A1")
	}
	u.ok(u.Close(ctx, inventory.Call{Actor: "nurse", Happened: u.clock.at}, trace.Closing{Treatment: id, Minutes: real}))
	return id
}

// 720 mL/min at 45X: 310 min take (223.2 + 7.5) / 45 = 5.127 L, two bottles of
// 5 L; 240 min take 4.007 L, one (the formula of the README).
func TestShortAndLongRuns(t *testing.T) {
	u := newUnit(t)
	u.receive("A2K", "A1", "2027-06-30", 9, "cart-a")
	u.clock.pass(10 * time.Minute)
	short := u.run(310, 240, 2) // both bottles were hung
	s := morning()
	u.count("cart-a", &s, inventory.CountLine{Product: "A2K", Lot: "A1", Counted: 7})
	l := u.lines(trace.Span{From: s})["cart-a A2K"]
	if l.Expected != 1 || l.Planned != 2 || l.Recorded != 2 || *l.Counted != 2 || l.OpenRecordedLessExpected != 0 || *l.OpenCountedLessRecorded != 0 {
		t.Fatalf("after a short run %+v", l)
	}
	if kinds(l) != "short_run short_run" || l.Causes[0].Treatment != short || l.Causes[0].Recorded != 1 || l.Causes[1].Volume != -1120000 {
		t.Errorf("causes of a short run %+v", l.Causes) // 70 min × 720 mL / 45 = 1.120 L
	}
	u.clock.pass(6 * time.Hour)
	long := u.run(240, 310, 1) // the second bottle was not scanned
	s.Number = 2
	u.count("cart-a", &s, inventory.CountLine{Product: "A2K", Lot: "A1", Counted: 5})
	l = u.lines(trace.Span{From: s})["cart-a A2K"]
	if l.Expected != 2 || l.Planned != 1 || l.Recorded != 1 || *l.Counted != 2 || l.OpenRecordedLessExpected != 0 || *l.OpenCountedLessRecorded != 0 {
		t.Fatalf("after a long run %+v", l)
	}
	if kinds(l) != "long_run long_run" || l.Causes[0].Treatment != long && l.Causes[1].Treatment != long {
		t.Errorf("causes of a long run %+v", l.Causes)
	}
	both := u.lines(trace.Span{From: morning(), To: s})["cart-a A2K"]
	if *both.Counted != 4 || both.Expected != 3 || both.Planned != 3 || *both.OpenCountedLessRecorded != 0 || both.OpenRecordedLessExpected != 0 {
		t.Errorf("both shifts %+v", both)
	}
}

// A pack taken from the next cart without a word, once scanned and once not.
func TestCarriedOver(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 9, "cart-a")
	u.receive("DLZ", "D2", "2027-06-30", 9, "cart-b")
	s := morning()
	u.clock.pass(time.Minute)
	a := u.open("P1", "S2") // at cart-b, with a dialyzer from cart-a
	u.scan(a, gtinDialyzer, "D1")
	u.clock.pass(3 * time.Hour)
	u.count("cart-b", &s, inventory.CountLine{Product: "DLZ", Lot: "D2", Counted: 9})
	u.count("cart-a", &s, inventory.CountLine{Product: "DLZ", Lot: "D1", Counted: 8})
	got := u.lines(trace.Span{From: s})
	from, to := got["cart-a DLZ"], got["cart-b DLZ"]
	if kinds(from) != "carried_over" || kinds(to) != "carried_over" || *from.OpenCountedLessRecorded != 0 || *to.OpenCountedLessRecorded != 0 {
		t.Errorf("the same lot: from %+v\nto %+v", from, to)
	}
	if !from.Causes[0].Likely || !strings.Contains(from.Causes[0].Text, "D1") {
		t.Errorf("the cause is %+v", from.Causes[0])
	}
	// One place asked for alone has the same causes.
	if alone := u.lines(trace.Span{From: s, Location: "cart-b", Product: "DLZ"}); len(alone) != 1 || kinds(alone["cart-b DLZ"]) != "carried_over" {
		t.Errorf("cart-b alone %+v", alone)
	}
	u.clock.pass(4 * time.Hour)
	s.Number = 2
	u.open("P2", "S2") // with another from cart-a, and nobody scans it
	u.clock.pass(time.Hour)
	u.count("cart-b", &s, inventory.CountLine{Product: "DLZ", Lot: "D2", Counted: 9})
	u.count("cart-a", &s, inventory.CountLine{Product: "DLZ", Lot: "D1", Counted: 7})
	got = u.lines(trace.Span{From: s})
	from, to = got["cart-a DLZ"], got["cart-b DLZ"]
	if kinds(from) != "carried_over" || kinds(to) != "not_recorded carried_over" || *from.OpenCountedLessRecorded != 0 || *to.OpenCountedLessRecorded != 0 {
		t.Errorf("no record: from %+v\nto %+v", from, to)
	}
}

// Three too many at one count and three too few at the next: one was wrong. A
// difference that stays is no miscount.
func TestMiscounts(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 20, "cart-a")
	dlz := func(n int64) inventory.CountLine { return inventory.CountLine{Product: "DLZ", Lot: "D1", Counted: n} }
	var shifts []inventory.Shift
	for i, n := range []int64{20, 23, 20, 18, 18} {
		s := inventory.Shift{Date: inventory.Date("2026-03-02").AddDays(i), Number: 1}
		shifts = append(shifts, s)
		u.count("cart-a", &s, dlz(n))
		u.clock.pass(24 * time.Hour)
	}
	open := func(i int) (int64, string) {
		l, ok := u.lines(trace.Span{From: shifts[i]})["cart-a DLZ"]
		if !ok {
			return 0, "" // nothing happened, and nothing differs
		}
		return *l.OpenCountedLessRecorded, kinds(l)
	}
	for i, want := range []struct {
		open  int64
		kinds string
	}{{0, ""}, {0, "miscount"}, {0, "miscount"}, {2, ""}, {0, ""}} {
		if n, k := open(i); n != want.open || k != want.kinds {
			t.Errorf("count %d: %d are open, causes %q, want %+v", i, n, k, want)
		}
	}
}

// A use from another place, and one after the closing count.
func TestUsesElsewhere(t *testing.T) {
	u := newUnit(t)
	u.receive("NDL", "N1", "2027-06-30", 9, "cart-a")
	u.receive("NDL", "N2", "2027-06-30", 9, "cart-b")
	s := morning()
	u.clock.pass(time.Minute)
	a := u.open("P1", "S1")
	used := &trace.Used{
		Treatment: a, Category: inventory.FistulaNeedle, How: trace.Scanned, Location: "cart-b",
		Stock: inventory.Stock{Product: "NDL", Lot: "N2", Quantity: 1},
	}
	u.ok(u.Record(ctx, u.by("nurse"), used, func(inventory.Reader) ([]inventory.Event, error) { return []inventory.Event{used}, nil }))
	u.count("cart-a", &s, inventory.CountLine{Product: "NDL", Lot: "N1", Counted: 9})
	u.count("cart-b", &s, inventory.CountLine{Product: "NDL", Lot: "N2", Counted: 8})
	u.clock.pass(time.Minute)
	u.scan(a, gtinNeedle, "N1")
	got := u.lines(trace.Span{From: s})
	here, there := got["cart-a NDL"], got["cart-b NDL"]
	if kinds(here) != "other_place outside_counts" || here.OpenRecordedLessExpected != 0 || *here.OpenCountedLessRecorded != 0 {
		t.Errorf("here %+v", here)
	}
	if kinds(there) != "other_place" || there.OpenRecordedLessExpected != 0 || *there.OpenCountedLessRecorded != 0 {
		t.Errorf("there %+v", there)
	}
}

// Before anybody counts, the opening is the book of the time, also weeks ago.
func TestOpeningWithoutACount(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D1", "2027-06-30", 20, "cart-a")
	s := morning()
	for range 30 {
		u.clock.pass(24 * time.Hour)
		u.ok(u.Waste(ctx, u.by("nurse"), inventory.Wasted{Stock: inventory.Stock{Product: "DLZ", Lot: "D1", Quantity: 1}, From: "cart-a", Cause: "dropped"}))
	}
	s.Date = s.Date.AddDays(17)
	l := u.lines(trace.Span{From: s})["cart-a DLZ"]
	if l.Opening != 4 || l.Counted != nil || l.Wasted != 1 {
		t.Errorf("the shift of the 17th day %+v", l)
	}
}

func TestSpansThatCannotBe(t *testing.T) {
	u := newUnit(t)
	for name, s := range map[string]trace.Span{
		"backwards":       {From: morning(), To: inventory.Shift{Date: "2026-03-01", Number: 1}},
		"a year":          {From: morning(), To: inventory.Shift{Date: "2027-03-01", Number: 1}},
		"no such shift":   {From: inventory.Shift{Date: "2026-03-01", Number: 9}},
		"no date":         {From: inventory.Shift{Date: "soon", Number: 1}},
		"no such place":   {From: morning(), Location: "attic"},
		"no such product": {From: morning(), Product: "XYZ"},
	} {
		if _, err := u.ReconcileSpan(ctx, s); err == nil {
			t.Errorf("%s is taken", name)
		}
	}
}
