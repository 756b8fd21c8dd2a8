package trace_test

import (
	"errors"
	"slices"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

func (u *unit) vial(id trace.ContainerID, lot string) inventory.Receipt {
	u.t.Helper()
	return u.ok(u.OpenContainer(ctx, u.by("nurse"), trace.ContainerOpened{Container: id, Stock: inventory.Stock{GTIN: gtinHeparin, Lot: lot}, From: "cart-a"}))
}

func (u *unit) drawn(t trace.TreatmentID, id trace.ContainerID) *trace.Used {
	u.t.Helper()
	return event[*trace.Used](u, u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{Treatment: t, How: trace.Scanned, Container: id})))
}

// One vial serves several patients: the piece is used when it is opened, and a
// lot's answer names all who drew from it.
func TestAContainerIsShared(t *testing.T) {
	u := newUnit(t)
	u.receive("HEP", "H1", "2027-06-30", 2, "cart-a")
	u.vial("V1", "H1")
	one, two, silent := u.open("P1", "S1"), u.open("P2", "S2"), trace.TreatmentID("")
	ev := u.drawn(one, "V1")
	if ev.Lot != "H1" || ev.Quantity != 0 || !ev.OpenedBefore || ev.Category != inventory.Heparin || len(ev.Findings) != 0 {
		t.Errorf("drawn: %+v", ev)
	}
	if ev := u.drawn(two, "V1"); !slices.Contains(codes(ev.Findings), inventory.FindingContainer+":caution") {
		t.Errorf("drawn at another place: %v", ev.Findings)
	}
	u.clock.pass(4 * time.Hour)
	u.close(one)
	u.close(two)
	silent = u.treated("P1", "S1") // drew from it, and nobody wrote it down
	u.ok(u.CloseContainer(ctx, u.by("nurse"), trace.ContainerClosed{Container: "V1", How: trace.ContainerEmpty}))
	a, xs := u.exposures(gtinHeparin, "H1")
	got := grades(xs)
	if got[one] != trace.Confirmed || got[two] != trace.Confirmed || got[silent] != trace.Probable {
		t.Errorf("%v; drew %s, %s, silent %s", got, one, two, silent)
	}
	if a.Opened != 1 || a.Outside != 0 || a.Mass.Used != 1 || a.Mass.OnHand != 1 || a.Mass.In() != a.Mass.Out() {
		t.Errorf("mass %+v, %d opened", a.Mass, a.Opened)
	}
	// A pack of it that was opened before is taken for the one that stands open.
	u.vial("V2", "H1")
	id := u.open("P2", "S1")
	linked := event[*trace.Used](u, u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{Treatment: id, How: trace.Scanned, OpenedBefore: true, Stock: inventory.Stock{GTIN: gtinHeparin, Lot: "H1"}})))
	if linked.Container != "V2" {
		t.Errorf("linked to %q", linked.Container)
	}
}

// The last piece of a lot stands open: that all pieces are accounted for is no
// reason to leave a treatment out before the container was closed.
func TestALastPieceStandsOpen(t *testing.T) {
	for _, late := range []bool{false, true} {
		u := newUnit(t)
		u.receive("HEP", "H1", "2027-06-30", 1, "cart-a")
		u.clock.pass(time.Hour)
		opened := u.clock.at
		if !late {
			u.vial("V1", "H1")
		}
		for range 2 { // the counts see no pack of it any more
			u.clock.pass(time.Minute)
			for _, loc := range []inventory.LocationID{"cart-a", "cart-b", "room", "quarantine"} {
				u.ok(u.Count(ctx, u.by("stock"), inventory.Counted{Location: loc, Complete: true}))
			}
		}
		silent := u.treated("P1", "S1")
		closed := u.clock.at
		u.clock.pass(time.Hour)
		after := u.treated("P1", "S1")
		if late {
			u.ok(u.OpenContainer(ctx, inventory.Call{Actor: "nurse", Happened: opened}, trace.ContainerOpened{Container: "V1", Stock: inventory.Stock{GTIN: gtinHeparin, Lot: "H1"}, From: "cart-a"}))
		}
		u.ok(u.CloseContainer(ctx, inventory.Call{Actor: "nurse", Happened: closed}, trace.ContainerClosed{Container: "V1", How: trace.ContainerDiscarded}))
		_, xs := u.exposures(gtinHeparin, "H1")
		if got := grades(xs); got[silent] == "" || got[after] != "" {
			t.Errorf("recorded late %v: %v; silent %s, after %s", late, got, silent, after)
		}
	}
}

func TestWhatCannotBeDrawn(t *testing.T) {
	u := newUnit(t)
	u.receive("HEP", "H1", "2027-06-30", 2, "cart-a")
	rec := u.vial("V1", "H1")
	id := u.open("P1", "S1")
	scan := func(s trace.Scan) error {
		s.Treatment = id
		_, err := u.Scan(ctx, u.by("nurse"), s)
		return err
	}
	if err := scan(trace.Scan{Container: "V9"}); !errors.Is(err, inventory.ErrNotFound) {
		t.Errorf("no such container: %v", err)
	}
	if err := scan(trace.Scan{Container: "V1", Stock: inventory.Stock{Product: "HEP", Lot: "H2"}}); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("of another lot: %v", err)
	}
	u.clock.pass(time.Hour)
	closed := u.ok(u.CloseContainer(ctx, u.by("nurse"), trace.ContainerClosed{Container: "V1", How: trace.ContainerEmpty}))
	u.clock.pass(time.Hour)
	stop := event[*trace.ScanStopped](u, u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{Treatment: id, Container: "V1"})))
	if !slices.Contains(codes(stop.Findings), inventory.FindingContainer+":stop") {
		t.Errorf("from an empty one: %v", stop.Findings)
	}
	used := event[*trace.Used](u, u.ok(u.Answer(ctx, u.by("nurse"), trace.Answer{Treatment: id, Stopped: u.head(), Used: true, Reason: "it was not empty"})))
	if used.Container != "V1" || used.Lot != "H1" {
		t.Errorf("used all the same: %+v", used)
	}
	u.ok(u.Correct(ctx, u.by("nurse"), closed.Entries[0].Seq, "it was not empty"))
	u.ok(u.Correct(ctx, u.by("nurse"), rec.Entries[0].Seq, "another lot"))
	if err := scan(trace.Scan{Container: "V1"}); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("of one that was struck out: %v", err)
	}
	a, xs := u.exposures(gtinHeparin, "H1")
	if len(xs) != 1 || a.Mass.OnHand != 2 || a.Mass.In() != a.Mass.Out() {
		t.Errorf("what was drawn stays: %+v %+v", xs, a.Mass)
	}
}

func (u *unit) head() (seq uint64) {
	u.t.Helper()
	u.view(func(r inventory.Reader) error { seq = r.Head().Seq; return nil })
	return seq
}

// A container that is carried to another place may serve whoever is treated
// there from then on, and no longer those where it stood; struck out, or written
// down late, the same.
func TestAContainerIsCarried(t *testing.T) {
	for _, late := range []bool{false, true} {
		u := newUnit(t)
		u.receive("HEP", "H1", "2027-06-30", 1, "cart-a")
		u.vial("V1", "H1")
		here := u.treated("P1", "S1")
		u.clock.pass(time.Hour)
		at := u.clock.at
		carry := func() inventory.Receipt {
			call := u.by("nurse")
			call.Happened = at
			return u.ok(u.MoveContainer(ctx, call, trace.ContainerMoved{Container: "V1", Place: "cart-b"}))
		}
		var moved inventory.Receipt
		if !late {
			moved = carry()
		}
		u.clock.pass(24 * time.Hour)
		there, left := u.treated("P2", "S2"), u.treated("P1", "S1")
		if late {
			moved = carry()
		}
		_, xs := u.exposures(gtinHeparin, "H1")
		if got := grades(xs); got[here] != trace.Probable || got[there] != trace.Probable || got[left] == trace.Confirmed {
			t.Errorf("late %v: %v; here %s, there %s, left %s", late, got, here, there, left)
		}
		id := u.open("P2", "S2")
		if ev := u.drawn(id, "V1"); slices.Contains(codes(ev.Findings), inventory.FindingContainer+":caution") {
			t.Errorf("drawn where it stands: %v", ev.Findings)
		}
		if _, err := u.MoveContainer(ctx, u.by("nurse"), trace.ContainerMoved{Container: "V1", Place: "cart-b"}); !errors.Is(err, inventory.ErrInvalid) {
			t.Errorf("carried to where it stands: %v", err)
		}
		u.ok(u.Correct(ctx, u.by("nurse"), moved.Entries[0].Seq, "another vial"))
		other := u.open("P1", "S2")
		if ev := u.drawn(other, "V1"); !slices.Contains(codes(ev.Findings), inventory.FindingContainer+":caution") {
			t.Errorf("struck out, and drawn elsewhere: %v", ev.Findings)
		}
	}
}
