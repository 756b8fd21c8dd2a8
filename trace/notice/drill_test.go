package notice_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace/notice"
)

// A drill takes the time, accounts for the pieces and says what held it up; it
// holds nothing.
func TestDrill(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "A1", 10)
	u.treat("P1", "S1", lot("A1"))
	u.treat("P2", "S1", lot("A1"))
	u.treat("P3", "S1") // nothing recorded
	begin := func(q notice.Drilling) *notice.DrillBegun {
		t.Helper()
		return u.event(u.ok(u.BeginDrill(ctx, by("officer"), q)), 0).(*notice.DrillBegun)
	}
	end := func(q notice.Drilled) notice.DrillResult {
		t.Helper()
		return u.event(u.ok(u.EndDrill(ctx, by("officer"), q)), 0).(*notice.DrillEnded).Result
	}
	d := begin(notice.Drilling{})
	if d.Product != "DLZ" || d.Lot != "A1" || d.Among != 1 {
		t.Fatalf("the only lot that was used was not drawn: %+v", d)
	}
	u.pass(25 * time.Minute)
	// 10 came, 2 were used, the book has 8; 7 are found: 9 of 10 accounted for.
	res := end(notice.Drilled{Drill: d.Drill, Shelf: []notice.FoundThere{{Location: "cart-a", Pieces: 7}}, HeldUp: []string{"the key to cart A was missing"}})
	said := strings.Join(res.HeldUp, "\n")
	if res.Seconds != 1500 || res.Recorded != 1000 || res.Found != 900 || res.Gaps != 1 || res.Counts[0].Treatments != 2 {
		t.Errorf("%+v", res)
	}
	for _, want := range []string{"1 treatment has nothing", "the book has 8 and 7 were found", "the key to cart A"} {
		if !strings.Contains(said, want) {
			t.Errorf("what held it up does not say %q:\n%s", want, said)
		}
	}
	if _, err := u.EndDrill(ctx, by("officer"), notice.Drilled{Drill: d.Drill}); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("ended twice: %v", err)
	}
	// A count that finds 6 leaves 2 of 10 unaccounted for in the record.
	u.ok(u.Count(ctx, by("stock"), inventory.Counted{Location: "cart-a", Lines: []inventory.CountLine{{Product: "DLZ", Lot: "A1", Counted: 6}}}))
	second := begin(notice.Drilling{Product: gtinDialyzer, Lot: "A1"})
	if second.Among != 0 || second.Product != "DLZ" {
		t.Errorf("chosen: %+v", second)
	}
	res = end(notice.Drilled{Drill: second.Drill})
	if res.Recorded != 800 || res.Searched || !strings.Contains(strings.Join(res.HeldUp, "\n"), "Nobody looked for the 6 pieces") {
		t.Errorf("%+v", res)
	}
	list, err := u.Drills(ctx)
	if err != nil || len(list) != 2 || list[0].Drill != second.Drill || list[1].Result.Found != 900 {
		t.Errorf("%+v, %v", list, err)
	}
	err = u.View(ctx, func(r inventory.Reader) error {
		h, err := inventory.HoldOn(r, inventory.Lot{Product: "DLZ", Number: "A1"})
		if h != nil {
			t.Errorf("a drill holds the lot: %+v", h)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for name, q := range map[string]notice.Drilling{"no such lot": {Product: "DLZ", Lot: "A9"}, "no product": {Lot: "A1"}, "nothing to draw": {Product: "BLS"}} {
		var refusal *inventory.Refusal
		if _, err := u.BeginDrill(ctx, by("officer"), q); !errors.As(err, &refusal) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
