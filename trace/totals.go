package trace

import (
	"cmp"
	"maps"
	"slices"

	"lotbook/inventory"
)

// A Total is one product over all places. What was carried from one place to
// another without an entry falls out of it, where both were counted.
type Total struct {
	Product  inventory.ProductID `json:"product"`
	Name     string              `json:"product_name,omitempty"`
	Category inventory.Category  `json:"category,omitempty"`
	// NotCounted are the places with movements or treatments of which no
	// count closes the span: Counted and its differences leave them out.
	NotCounted []inventory.LocationID `json:"not_counted"`
	// Counted and the differences with it are nil if no place was counted.
	Counted                  *int64 `json:"counted"`
	Recorded                 int64  `json:"recorded"`
	Expected                 int64  `json:"expected"`
	Planned                  int64  `json:"planned"`
	CountedLessRecorded      *int64 `json:"counted_less_recorded"`
	RecordedLessExpected     int64  `json:"recorded_less_expected"`
	OpenCountedLessRecorded  *int64 `json:"open_counted_less_recorded"`
	OpenRecordedLessExpected int64  `json:"open_recorded_less_expected"`
}

func totals(lines []Line) []Total {
	by := map[inventory.ProductID]*Total{}
	add := func(to **int64, n *int64) {
		if n == nil {
			return
		}
		if *to == nil {
			*to = new(int64)
		}
		**to += *n
	}
	for i := range lines {
		l := &lines[i]
		t := by[l.Product]
		if t == nil {
			t = &Total{Product: l.Product, Name: l.Name, Category: l.Category, NotCounted: []inventory.LocationID{}}
			by[l.Product] = t
		}
		t.Recorded += l.Recorded
		t.Expected += l.Expected
		t.Planned += l.Planned
		t.RecordedLessExpected += l.RecordedLessExpected
		t.OpenRecordedLessExpected += l.OpenRecordedLessExpected
		add(&t.Counted, l.Counted)
		add(&t.CountedLessRecorded, l.CountedLessRecorded)
		add(&t.OpenCountedLessRecorded, l.OpenCountedLessRecorded)
		if l.Counted == nil {
			t.NotCounted = append(t.NotCounted, l.Location)
		}
	}
	out := []Total{}
	for _, id := range slices.SortedFunc(maps.Keys(by), cmp.Compare[inventory.ProductID]) {
		out = append(out, *by[id])
	}
	return out
}
