package demo_test

import (
	"strings"
	"testing"

	"lotbook/trace"
)

// The unit has several problems of one lot, by the record alone, with a draft and
// a picture of the worst.
func TestProblemsOfTheUnit(t *testing.T) {
	u := makeUnit(t, small(1, 0.05))
	l, err := u.ProblemTable(ctx, trace.ProblemQuery{})
	if err != nil {
		t.Fatal(err)
	}
	if len(l.Rows) != 5 || len(l.List.OfLots) != 1 || l.List.OfLots[0].Count != 3 || l.List.OfLots[0].Treatments != 3 {
		t.Fatalf("%d problems, of one lot %+v", len(l.Rows), l.List.OfLots)
	}
	pictures := 0
	for _, r := range l.Rows {
		pictures += len(r.Pictures)
		d, err := u.DraftProblem(ctx, r.ID, nil)
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Pictures) > 0 && !strings.Contains(strings.Join(d.Notes, " "), "3 problems of this lot") {
			t.Errorf("notes %q", d.Notes)
		}
	}
	if pictures != 1 {
		t.Errorf("%d pictures", pictures)
	}
}
