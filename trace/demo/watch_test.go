package demo_test

import (
	"strings"
	"testing"

	"lotbook/inventory"
	"lotbook/trace"
	"lotbook/trace/demo"
)

func day(o *demo.Options, n int) inventory.Date {
	return inventory.DateOf(o.Until, until.Location()).AddDays(n - o.Days)
}

// In a small unit one needle of eight vanishes from the 20th of 40 days on. It
// must be found, with its onset and its size, and nothing else may be; and
// without the loss nothing.
func TestALeakIsSeen(t *testing.T) {
	for _, leak := range []float64{0, 0.125} {
		o := small(1, 0.03)
		o.Days, o.Leak, o.LeakOf, o.LeakFrom = 40, leak, "NDL-15", 20
		m := makeUnit(t, o)
		w, err := m.Watch(ctx, trace.Watching{From: day(&o, 0), To: day(&o, o.Days-1)})
		if err != nil {
			t.Fatal(err)
		}
		if w.Shifts < 90 || w.Looked < 40 {
			t.Errorf("%d shifts and %d series", w.Shifts, w.Looked)
		}
		if c := w.Scanning[0].Chart; c == nil || c.Center < 0.02 || c.Center > 0.045 {
			t.Errorf("3%% of scans are left out, and the chart is %+v", c)
		}
		seen := false
		for _, a := range w.Alarms() {
			if leak == 0 || a.Product != o.LeakOf {
				t.Errorf("a false alarm: %s %s: %s", a.Product, a.Location, a.Words)
				continue
			}
			if a.Location != "" {
				continue
			}
			seen = true
			c := a.Change
			if from := day(&o, o.LeakFrom); c.Earliest.Date > from.AddDays(2) || c.Latest.Date < from {
				t.Errorf("it began on %s, and is said to between %s and %s", from, c.Earliest, c.Latest)
			}
			// Two needles a treatment: a quarter of a piece for each.
			if c.Low > 0.25 || c.High < 0.2 {
				t.Errorf("a loss of about 0.25 for each treatment is said to be %.3f to %.3f", c.Low, c.High)
			}
			if !strings.Contains(a.Words, "pieces in 100 treatments") {
				t.Errorf("words %q", a.Words)
			}
		}
		if seen != (leak > 0) {
			t.Errorf("a leak of %v is seen: %v", leak, seen)
		}
	}
}

// Each lot that nobody scanned is named with its treatment, nothing is named
// that was scanned, and each run that was notably short is named too.
func TestWhatIsNamed(t *testing.T) {
	o := small(2, 0.05)
	o.ShortRuns = 0.05
	m := makeUnit(t, o)
	type key struct {
		treatment trace.TreatmentID
		kind      trace.CauseKind
		product   inventory.ProductID
	}
	named := map[key]bool{}
	for d := range o.Days {
		for n := 1; n <= o.Shifts; n++ {
			rec, err := m.Reconcile(ctx, inventory.Shift{Date: day(&o, d), Number: n})
			if err != nil {
				t.Fatal(err)
			}
			for i := range rec.Lines {
				for _, c := range rec.Lines[i].Causes {
					named[key{c.Treatment, c.Kind, rec.Lines[i].Product}] = true
				}
			}
		}
	}
	missed, found, shorts, told := 0, 0, 0, 0
	for _, tr := range m.truth.Treatments {
		if tr.NotDone || tr.Open {
			continue
		}
		if tr.Planned-tr.Real >= 15 {
			shorts++
			for _, acid := range []inventory.ProductID{"ACD-K1", "ACD-K2", "ACD-K3"} {
				if named[key{tr.ID, trace.CauseShortRun, acid}] {
					told++
				}
			}
		}
		for _, c := range []inventory.Category{inventory.Dialyzer, inventory.Saline, inventory.Bicarbonate} {
			for i, u := range tr.Used[c] {
				if i == 0 && u.Entry == 0 {
					missed++
					if named[key{tr.ID, trace.CauseNotRecorded, u.Product}] || named[key{tr.ID, trace.CauseOtherProduct, u.Product}] {
						found++
					}
				}
			}
		}
	}
	t.Logf("%d of %d that were not scanned are named, %d of %d short runs", found, missed, told, shorts)
	if missed < 30 || shorts < 20 {
		t.Errorf("only %d are missing, %d runs are short", missed, shorts)
	}
	if found < missed*95/100 || told < shorts*95/100 {
		t.Errorf("%d of %d that were not scanned are named, %d of %d short runs", found, missed, told, shorts)
	}
}

func TestWatchOfNothing(t *testing.T) {
	o := small(3, 0)
	o.Days = 2
	m := makeUnit(t, o)
	w, err := m.Watch(ctx, trace.Watching{From: "2020-01-01", To: "2020-03-01"})
	if err != nil || w.Shifts != 0 || len(w.Series) != 0 || w.Scanning[0].Chart != nil || w.Scanning[0].Unknown == "" {
		t.Errorf("before there was a unit: %+v (%v)", w, err)
	}
	w, err = m.Watch(ctx, trace.Watching{From: day(&o, 0), To: day(&o, 1)})
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range w.Series {
		if s.Alarm || s.Level != nil || !strings.HasPrefix(s.Words, "Not known") {
			t.Errorf("after two days: %+v", s)
		}
	}
	for name, q := range map[string]trace.Watching{
		"backwards": {From: "2026-02-01", To: "2026-01-01"}, "no date": {From: "soon", To: "2026-01-01"},
		"ten years": {From: "2016-01-01", To: "2026-01-01"}, "all false": {From: "2026-01-01", To: "2026-01-02", Alpha: 1},
	} {
		if _, err := m.Watch(ctx, q); err == nil {
			t.Errorf("%s is taken", name)
		}
	}
}
