package notice_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
	"lotbook/trace/notice"
)

// A notice grows from two lots to four, as that of 2014 on bicarbonate grew from
// 49 lots to 56 (published): the scope is the union, and the difference names
// who is new.
func TestNoticeGrows(t *testing.T) {
	u := newUnit(t)
	for _, l := range []string{"A1", "A2", "A3", "B7"} {
		u.receive("DLZ", l, 3)
	}
	t1 := u.treat("P1", "S1", lot("A1"))
	t2 := u.treat("P2", "S2", lot("A3"))
	t3 := u.treat("P3", "S1", lot("B7"))
	both := u.treat("P1", "S2", lot("A2"), lot("A3"))
	id := u.write("", "FSN-1", listed("A1", "A2"))
	if a := u.answer(id, 0); graded(a)[t1] != trace.Confirmed || graded(a)[t2] != "" || graded(a)[t3] != "" || graded(a)[both] != trace.Confirmed {
		t.Errorf("the first version: %v", graded(a))
	}
	u.write(id, "FSN-1 update", listed("A3", "A4"))
	a := u.answer(id, 0)
	if g := graded(a); len(g) != 3 || g[t2] != trace.Confirmed || g[t3] != "" {
		t.Errorf("the union: %v", g)
	}
	if c := a.Counts[0]; c.Treatments != 3 || c.Patients != 2 || c.Machines != 2 {
		t.Errorf("counted once each: %+v", c)
	}
	for _, x := range a.Treatments {
		if x.Treatment == both && len(x.Lots) != 2 {
			t.Errorf("the treatment with two lots shows %v", x.Lots)
		}
	}
	if a.Mass.Received != 9 || a.Mass.Used != 4 || a.Mass.OnHand != 5 || a.Mass.In() != a.Mass.Out() {
		t.Errorf("mass balance of three lots: %+v", a.Mass)
	}
	d, err := u.Difference(ctx, id, 1, 2)
	if err != nil {
		t.Fatal(err)
	}
	if len(d.NewPatients) != 1 || d.NewPatients[0].Patient != "P2" || len(d.New) != 1 || d.New[0].Treatment != t2 {
		t.Errorf("new: %+v and %+v", d.NewPatients, d.New)
	}
	if len(d.NewLots) != 2 || d.NewLots[0].Lot != "A3" || d.NewLots[1].Lot != "A4" || d.NewLots[1].OnRecord {
		t.Errorf("new lots: %+v", d.NewLots)
	}
	// The issuer narrows it.
	u.ok(u.Write(ctx, by("officer"), notice.Writing{Notice: id, Version: notice.Version{
		Reference: "FSN-1 final", Issuer: "Invented Maker", Received: "2026-03-25", Alone: true,
		Lines: []notice.Line{{Product: "DLZ", Scope: inventory.Scope{listed("A3")}}},
	}}))
	if g := graded(u.answer(id, 0)); len(g) != 2 || g[t1] != "" {
		t.Errorf("narrowed: %v", g)
	}
	if d, err = u.Difference(ctx, id, 2, 3); err != nil || len(d.GoneLots) != 3 || len(d.Gone) != 1 || len(d.GonePatients) != 0 {
		t.Errorf("gone: %+v, %v", d, err)
	}
}

// What only one way of reading means is in doubt until a person decides; it is
// listed and held all the same.
func TestDoubt(t *testing.T) {
	u := newUnit(t)
	for _, l := range []string{"04D15309", "X1", "A0180-2"} {
		u.receive("DLZ", l, 5)
	}
	likely, part := u.treat("P1", "S1", lot("04D15309")), u.treat("P2", "S1", lot("A0180-2"))
	other := u.treat("P3", "S1", lot("X1"))
	id := u.write("", "FSN-2", listed("04015309"), inventory.ScopeLine{Kind: inventory.ScopeRange, From: "A0100", To: "A0250"})
	a := u.answer(id, 0)
	if a.Undecided != 2 || graded(a)[likely] != trace.NotExcluded || graded(a)[part] != trace.NotExcluded || graded(a)[other] != "" {
		t.Errorf("undecided %d, %v", a.Undecided, graded(a))
	}
	if a.Mass.Received != 0 || a.InDoubt.Received != 10 {
		t.Errorf("nothing is meant for sure, 10 pieces are in doubt: %+v, %+v", a.Mass, a.InDoubt)
	}
	u.ok(u.Confirm(ctx, by("officer"), notice.Confirming{Notice: id}))
	held := func(number string) *inventory.Hold {
		var h *inventory.Hold
		err := u.View(ctx, func(r inventory.Reader) (err error) {
			h, err = inventory.HoldOn(r, inventory.Lot{Product: "DLZ", Number: number})
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		return h
	}
	if h := held("04D15309"); h == nil || h.Doubt == "" || h.Scope != string(id) {
		t.Errorf("a lot in doubt is held, and it is said why: %+v", h)
	}
	for _, d := range []notice.LotDecided{
		{Notice: id, Product: gtinDialyzer, Lot: "04D15309", Meant: true, Reason: "the maker said so by telephone"},
		{Notice: id, Product: gtinDialyzer, Lot: "A0180-2", Meant: false, Reason: "the maker uses no such suffix"},
	} {
		u.ok(u.Decide(ctx, by("officer"), d))
	}
	a = u.answer(id, 0)
	if a.Undecided != 0 || graded(a)[likely] != trace.Confirmed || graded(a)[part] != "" {
		t.Errorf("decided: undecided %d, %v", a.Undecided, graded(a))
	}
	if h := held("04D15309"); h == nil || h.Doubt != "" {
		t.Errorf("decided, and the hold is %+v", h)
	}
	if h := held("A0180-2"); h != nil {
		t.Errorf("decided that it is not meant, and it is held: %+v", h)
	}
	i := slices.IndexFunc(a.Lots, func(l notice.LotLine) bool { return l.Lot == "A0180-2" })
	if i < 0 || a.Lots[i].Decided == nil || a.Lots[i].Verdict != inventory.NotMeant {
		t.Errorf("what was decided is shown: %+v", a.Lots)
	}
}

// Confirming holds what lies here and what comes later; a release needs a reason
// and leaves other notices' holds.
func TestHold(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "A1", 3)
	id := u.write("", "FSN-3", listed("A1", "A9"))
	finding := func(rec inventory.Receipt) string {
		for _, f := range u.event(rec, len(rec.Entries)-1).(*inventory.Received).Findings {
			if f.Code == inventory.FindingHeld {
				return f.Message
			}
		}
		return ""
	}
	if m := finding(u.receive("DLZ", "A1", 1)); m != "" {
		t.Errorf("held before the scope was confirmed: %s", m)
	}
	u.ok(u.Confirm(ctx, by("officer"), notice.Confirming{Notice: id}))
	if m := finding(u.receive("DLZ", "A9", 1)); !strings.Contains(m, "FSN-3") {
		t.Errorf("a later delivery of a lot that was not here: %q", m)
	}
	scan := func(p trace.PatientID, l string) bool {
		tr := u.event(u.ok(u.Open(ctx, by("nurse"), trace.Opening{Patient: p, Station: "S1", Another: true})), 0).(*trace.Opened).Treatment
		rec := u.ok(u.Scan(ctx, by("nurse"), trace.Scan{Treatment: tr, How: trace.Scanned, Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: l}}))
		_, stopped := u.event(rec, len(rec.Entries)-1).(*trace.ScanStopped)
		u.pass(time.Minute)
		return stopped
	}
	if !scan("P1", "A1") || !scan("P2", "") || scan("P3", "B1") {
		t.Error("scans: the held lot and one without a number must stop, another lot must not")
	}
	second := u.write("", "FSN-4", listed("A1"))
	u.ok(u.Confirm(ctx, by("officer"), notice.Confirming{Notice: second}))
	if _, err := u.ReleaseHold(ctx, by("officer"), notice.Releasing{Notice: id, Product: "DLZ", Lots: []string{"A1"}}); !errors.Is(err, inventory.ErrInvalid) {
		t.Errorf("released without a reason: %v", err)
	}
	if _, err := u.Release(ctx, by("officer"), inventory.Released{Product: "DLZ", Lots: []string{"A1"}, Reason: "tested"}); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("released beside the notice: %v", err)
	}
	u.ok(u.ReleaseHold(ctx, by("officer"), notice.Releasing{Notice: id, Product: "DLZ", Lots: []string{"A1"}, Reason: "the maker replaced the notice"}))
	if !scan("P1", "A1") {
		t.Error("released for one notice, it is no longer held for the other")
	}
	u.ok(u.ReleaseHold(ctx, by("officer"), notice.Releasing{Notice: second, Reason: "withdrawn"}))
	if scan("P1", "A1") || !scan("P1", "A9") {
		t.Error("the released lot is free, the other lot of the first notice is not")
	}
	// A decision after a release of everything holds nothing anew.
	u.ok(u.Decide(ctx, by("officer"), notice.LotDecided{Notice: second, Product: "DLZ", Lot: "A1", Meant: true, Reason: "looked at the pack"}))
	if scan("P2", "A1") {
		t.Error("a decision held again what was released")
	}
}

// A notice may come before the product is in the catalogue.
func TestHoldBeforeCatalogue(t *testing.T) {
	u := newUnit(t)
	rec := u.ok(u.Write(ctx, by("officer"), notice.Writing{Version: notice.Version{
		Reference: "FSN-5", Issuer: "Invented Maker", Received: "2026-03-02",
		Lines: []notice.Line{{Product: gtinUnknown, Scope: inventory.Scope{listed("Z1")}}, {Printed: "Something nobody could tell", Scope: inventory.Scope{listed("Z2")}}},
	}}))
	id := u.event(rec, 0).(*notice.VersionWritten).Notice
	u.ok(u.Confirm(ctx, by("officer"), notice.Confirming{Notice: id}))
	u.ok(u.SetProducts(ctx, by("admin"), inventory.Product{ID: "NEW", Name: "New dialyzer", Category: inventory.Dialyzer, Packs: []inventory.Pack{{Level: inventory.LevelEach, GTIN: gtinUnknown, Holds: 1}}}))
	err := u.View(ctx, func(r inventory.Reader) error {
		h, err := inventory.HoldOn(r, inventory.Lot{Product: "NEW", Number: "Z1"})
		if h == nil {
			t.Error("the hold was lost when the product came into the catalogue")
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if a := u.answer(id, 0); len(a.Unmatched) != 1 || len(a.Lots) != 1 || a.Lots[0].OnRecord {
		t.Errorf("%+v", a)
	}
}

// Of a lot of which only some serial numbers are meant, a use of another serial
// is left out, and one whose serial nobody recorded can't be excluded.
func TestSerials(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "A1", 9)
	meant := u.treat("P1", "S1", inventory.Stock{Lot: "A1", Serial: "S101"})
	other := u.treat("P2", "S1", inventory.Stock{Lot: "A1", Serial: "S201"})
	unknown := u.treat("P3", "S1", lot("A1"))
	line := listed("A1")
	line.SerialFrom, line.SerialTo = "S100", "S199"
	a := u.answer(u.write("", "FSN-6", line), 0)
	g := graded(a)
	if g[meant] != trace.Confirmed || g[other] != "" || g[unknown] != trace.NotExcluded || a.Serials != 1 || a.Undecided != 0 {
		t.Errorf("%v, other serials %d, undecided %d", g, a.Serials, a.Undecided)
	}
}

// All lots of a product: a use without a lot number is one of them.
func TestAllLots(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "A1", 9)
	known, nameless := u.treat("P1", "S1", lot("A1")), u.treat("P2", "S1", lot(""))
	all := u.answer(u.write("", "FSN-7", inventory.ScopeLine{Kind: inventory.ScopeAll}), 0)
	if g := graded(all); g[known] != trace.Confirmed || g[nameless] != trace.Confirmed {
		t.Errorf("all lots: %v", g)
	}
	none := u.answer(u.write("", "FSN-8", inventory.ScopeLine{Kind: inventory.ScopeNoLot}), 0)
	if g := graded(none); g[known] != "" || g[nameless] != trace.Confirmed {
		t.Errorf("no lot number: %v", g)
	}
	one := u.answer(u.write("", "FSN-9", listed("A1")), 0)
	if g := graded(one); g[known] != trace.Confirmed || g[nameless] != trace.Probable && g[nameless] != trace.NotExcluded || one.Undecided != 0 {
		t.Errorf("one lot: a use without a number may be of it, and nobody can decide that: %v, undecided %d", g, one.Undecided)
	}
}

func TestRefusals(t *testing.T) {
	u := newUnit(t)
	id := u.write("", "FSN-10", listed("A1"))
	v := notice.Version{Reference: "fsn-10", Issuer: "invented maker", Received: "2026-03-20", Lines: []notice.Line{{Product: "DLZ", Scope: inventory.Scope{listed("A1")}}}}
	if _, err := u.Write(ctx, by("officer"), notice.Writing{Version: v}); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("the same notice again: %v", err)
	}
	if _, err := u.Write(ctx, by("officer"), notice.Writing{Notice: "N1", Version: v}); !errors.Is(err, inventory.ErrNotFound) {
		t.Errorf("a version of no notice: %v", err)
	}
	v.Lines = []notice.Line{{Product: "NOPE", Scope: inventory.Scope{listed("A1")}}}
	if _, err := u.Write(ctx, by("officer"), notice.Writing{Notice: id, Version: v}); !errors.Is(err, inventory.ErrNotFound) {
		t.Errorf("an unknown product: %v", err)
	}
	if _, err := u.Decide(ctx, by("officer"), notice.LotDecided{Notice: id, Product: "BLS", Lot: "A1", Meant: true, Reason: "x"}); !errors.Is(err, inventory.ErrInvalid) {
		t.Errorf("a decision on a product that the notice does not name: %v", err)
	}
	if _, err := u.ReleaseHold(ctx, by("officer"), notice.Releasing{Notice: id, Reason: "x"}); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("released what was never held: %v", err)
	}
	if _, err := u.Answer(ctx, "N9", 0); !errors.Is(err, inventory.ErrNotFound) {
		t.Errorf("an answer to no notice: %v", err)
	}
}
