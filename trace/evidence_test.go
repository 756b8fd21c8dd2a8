package trace_test

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// A line is a treatment's line in an answer about a lot, as a scene wants it.
type line struct {
	name, product, lot string
	treatment          trace.TreatmentID
	grade              trace.Grade
	code               trace.LeftOutCode
}

// said opens a treatment in which something is said of its dialyzer, and closes
// it.
func (u *unit) said(p trace.PatientID, s trace.StationID, n trace.Unrecorded) trace.TreatmentID {
	u.t.Helper()
	n.Treatment, n.Category = u.open(p, s), inventory.Dialyzer
	u.ok(u.NotRecorded(ctx, u.by("nurse"), n))
	u.clock.pass(4 * time.Hour)
	u.close(n.Treatment)
	u.clock.pass(time.Hour)
	return n.Treatment
}

func (u *unit) countAll(places ...inventory.LocationID) {
	u.t.Helper()
	for _, p := range places {
		u.ok(u.Count(ctx, u.by("stock"), inventory.Counted{Location: p, Complete: true}))
		u.clock.pass(time.Minute)
	}
}

// dialyzerScene is a lot with a line of each grade and of each reason why one is
// left out, but for those of tanks.
func dialyzerScene(u *unit) []line {
	u.ok(u.SetProducts(ctx, u.by("stock"), inventory.Product{ID: "DLX", Name: "Another dialyzer", Category: inventory.Dialyzer}))
	early := u.treated("P1", "S1")
	u.clock.pass(48 * time.Hour)
	u.receive("DLZ", "D1", "2027-06-30", 9, "room")
	u.receive("DLZ", "D2", "2027-06-30", 20, "cart-b")
	u.ok(u.Move(ctx, u.by("stock"), inventory.Moved{Stock: inventory.Stock{Product: "DLZ", Lot: "D1", Quantity: 9}, From: "room", To: "cart-a"}))
	u.clock.pass(time.Hour)
	used := u.treated("P1", "S1", gtinDialyzer, "D1")
	here := u.treated("P2", "S1")
	there := u.treated("P2", "S2")
	other := u.treated("P1", "S2", gtinDialyzer, "D2")
	torn := u.said("P2", "S1", trace.Unrecorded{Used: true, Cause: "code torn"})
	without := u.said("P2", "S1", trace.Unrecorded{Cause: "none left"})
	noLot := u.open("P1", "S1")
	u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{Treatment: noLot, Stock: inventory.Stock{Product: "DLZ", Expires: "2027-06-30"}, Reason: "agreed"}))
	u.clock.pass(4 * time.Hour)
	u.close(noLot)
	another := u.open("P2", "S1")
	u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{Treatment: another, Stock: inventory.Stock{Product: "DLX", Expires: "2027-06-30"}, Reason: "agreed"}))
	u.clock.pass(4 * time.Hour)
	u.close(another)
	u.ok(u.Hold(ctx, u.by("quality"), inventory.Held{Product: "DLZ", Lots: []string{"D1"}, Reason: "looked at"}))
	stopped := u.open("P1", "S2")
	u.scan(stopped, gtinDialyzer, "D2")
	u.scan(stopped, gtinDialyzer, "D1")
	u.clock.pass(4 * time.Hour)
	u.close(stopped)
	absent := u.open("P2", "S2")
	u.ok(u.Close(ctx, u.by("nurse"), trace.Closing{Treatment: absent, NotDone: true, Note: "did not come"}))
	u.clock.pass(48 * time.Hour)
	u.countAll("room", "cart-a", "cart-b", "quarantine", "room", "cart-a", "cart-b", "quarantine", "room")
	late := u.treated("P2", "S1")
	return []line{
		{"before it came", "DLZ", "D1", early, trace.Excluded, trace.LeftOutNotYet},
		{"on record", "DLZ", "D1", used, trace.Confirmed, ""},
		{"where it was open", "DLZ", "D1", here, trace.Probable, ""},
		{"at another place", "DLZ", "D1", there, trace.NotExcluded, ""},
		{"of another lot", "DLZ", "D1", other, trace.Excluded, trace.LeftOutRecorded},
		{"said to be not recorded", "DLZ", "D1", torn, trace.Probable, ""},
		{"said to be without", "DLZ", "D1", without, trace.Excluded, trace.LeftOutWithout},
		{"without a lot", "DLZ", "D1", noLot, trace.Probable, ""},
		{"of another product, without a lot", "DLZ", "D1", another, trace.Excluded, trace.LeftOutOtherProduct},
		{"stopped", "DLZ", "D1", stopped, trace.Probable, ""},
		{"not done", "DLZ", "D1", absent, trace.Excluded, trace.LeftOutNotDone},
		{"after the counts", "DLZ", "D1", late, trace.Excluded, trace.LeftOutCounted},
	}
}

// accountedScene is a lot of which each piece is on record.
func accountedScene(u *unit) []line {
	u.receive("DLZ", "D1", "2027-06-30", 2, "cart-a")
	u.receive("DLZ", "D2", "2027-06-30", 9, "cart-b")
	one := u.treated("P1", "S1", gtinDialyzer, "D1")
	u.ok(u.Waste(ctx, u.by("nurse"), inventory.Wasted{Stock: inventory.Stock{Product: "DLZ", Lot: "D1", Quantity: 1}, From: "cart-a", Cause: "dropped"}))
	u.clock.pass(24 * time.Hour)
	next := u.treated("P2", "S1")
	return []line{
		{"on record", "DLZ", "D1", one, trace.Confirmed, ""},
		{"after all were accounted for", "DLZ", "D1", next, trace.Excluded, trace.LeftOutAccounted},
	}
}

// carriedScene is lots in a kit, in a batch and in a container.
func carriedScene(u *unit) []line {
	u.kits()
	u.contents("K1", inventory.Stock{GTIN: gtinNeedle, Lot: "N7"})
	kit := u.treated("P1", "S1", gtinUncatalogd, "K1")
	unsaid := u.treated("P2", "S1", gtinUncatalogd, "K2")
	u.receive("HEP", "H1", "2027-06-30", 2, "cart-a")
	u.vial("V1", "H1")
	drew := u.open("P1", "S1")
	u.drawn(drew, "V1")
	u.clock.pass(4 * time.Hour)
	u.close(drew)
	silent := u.treated("P2", "S1")
	u.ok(u.CloseContainer(ctx, u.by("nurse"), trace.ContainerClosed{Container: "V1", How: trace.ContainerEmpty}))
	u.mixing()
	u.mix("B1", "TA", trace.IntoEmpty, "G1")
	u.receive("A2K", "C9", "2027-06-30", 5, "cart-a")
	feed := u.feed("TA")
	u.clock.pass(time.Minute)
	fed := u.treated("P1", "S1")
	u.ok(u.EndFeed(ctx, u.by("tech"), "TA", feed))
	u.clock.pass(time.Minute)
	gap := u.treated("P2", "S1")
	return []line{
		{"in a kit", "NDL", "N7", kit, trace.Confirmed, ""},
		{"in a kit of which nobody said what it holds", "NDL", "N7", unsaid, trace.NotExcluded, ""},
		{"drawn from a container", "HEP", "H1", drew, trace.Confirmed, ""},
		{"while the container stood open", "HEP", "H1", silent, trace.Probable, ""},
		{"fed", "BAG", "G1", fed, trace.Confirmed, ""},
		{"fed, of a container's lot", "A2K", "C9", fed, trace.Excluded, trace.LeftOutFed},
		{"after the feed", "BAG", "G1", gap, trace.Excluded, trace.LeftOutNotFed},
	}
}

// weighty are the entries without which a line must be another one: another
// grade, or other words. Without the others, say the last trace of the lot
// before a treatment, it may rest on the trace before that.
var weighty = []string{
	"was used in the treatment", "what the treatment used of this kind", "met a stop", "a complete count", "came in", "were used, wasted or went",
	"what was said of what is not recorded", "the tank fed", "the feed ended", "what the kit or the batch holds",
}

// Each line can be opened to entries, and rests on them: with any of them struck
// out it is another line, or rests on others.
func TestALineRestsOnItsEntries(t *testing.T) {
	for name, scene := range map[string]func(*unit) []line{"dialyzer": dialyzerScene, "accounted for": accountedScene, "carried": carriedScene} {
		t.Run(name, func(t *testing.T) {
			u := newUnit(t)
			lines := scene(u)
			var opened []*trace.Evidence
			for _, l := range lines {
				e, err := u.ExposureEvidence(ctx, trace.Question{Product: l.product, Lot: l.lot}, l.treatment)
				if err != nil {
					t.Fatalf("%s: %v", l.name, err)
				}
				opened = append(opened, e)
				if e.Grade != l.grade || e.Code != l.code || len(e.Entries) == 0 || len(e.Why) == 0 {
					t.Errorf("%s: %s %s %v, resting on %d entries; want %s %s", l.name, e.Grade, e.Code, e.Why, len(e.Entries), l.grade, l.code)
				}
			}
			for i, l := range lines {
				for _, x := range opened[i].Entries {
					t.Run(fmt.Sprintf("%s without %s", l.name, x.Words), func(t *testing.T) {
						withoutEntry(t, scene, i, opened[i], x)
					})
				}
			}
		})
	}
}

// withoutEntry strikes an entry out of a scene made anew, and holds a line
// against what it was before.
func withoutEntry(t *testing.T, scene func(*unit) []line, i int, was *trace.Evidence, x trace.EvidenceEntry) {
	u := newUnit(t)
	l := scene(u)[i]
	if _, err := u.Correct(ctx, u.by("quality"), x.Entry, "to see what rests on it"); err != nil {
		if x.Kind != "treatment.opened" && x.Kind != "treatment.stopped" {
			t.Errorf("it can't be struck out: %v", err)
		}
		return
	}
	e, err := u.ExposureEvidence(ctx, trace.Question{Product: l.product, Lot: l.lot}, l.treatment)
	if errors.Is(err, inventory.ErrConflict) && x.Kind == "treatment.opened" {
		return // there is no such treatment any more
	}
	if err != nil {
		t.Fatal(err)
	}
	if slices.ContainsFunc(e.Entries, func(o trace.EvidenceEntry) bool { return o.Entry == x.Entry }) && e.Grade == was.Grade {
		t.Errorf("it still rests on what was struck out: %+v", x)
	}
	same := e.Grade == was.Grade && e.Code == was.Code && reflect.DeepEqual(e.Why, was.Why)
	if same && reflect.DeepEqual(e.Entries, was.Entries) {
		t.Errorf("nothing changed: %s %v", e.Grade, e.Why)
	}
	if same && slices.ContainsFunc(weighty, func(w string) bool { return strings.Contains(x.Shows, w) }) {
		t.Errorf("it is the same line without %q (%s): %s %v", x.Words, x.Shows, e.Grade, e.Why)
	}
}

// The treatments that an answer leaves out are listed, each with why, page by
// page, and with those that it lists they are all of the time.
func TestLeftOutAreListed(t *testing.T) {
	u := newUnit(t)
	lines := dialyzerScene(u)
	a, xs := u.exposures("DLZ", "D1")
	whole, more, err := u.LeftOut(ctx, a, trace.LeftOutQuestion{From: "2026-03-02", To: "2026-12-31"})
	if err != nil || more {
		t.Fatal(more, err)
	}
	for _, l := range lines {
		i := slices.IndexFunc(whole, func(x trace.LeftOut) bool { return x.Treatment == l.treatment })
		switch {
		case (i >= 0) != (l.grade == trace.Excluded):
			t.Errorf("%s: listed among what is left out: %v", l.name, i >= 0)
		case i >= 0 && (whole[i].Code != l.code || !strings.HasPrefix(whole[i].Why, l.code.Meaning()) || whole[i].Name == ""):
			t.Errorf("%s: %+v", l.name, whole[i])
		}
	}
	if n := len(whole) + len(grades(xs)); n != len(lines) {
		t.Errorf("%d treatments are left out or listed, of %d", n, len(lines))
	}
	var paged []trace.LeftOut
	q := trace.LeftOutQuestion{From: "2026-03-02", To: "2026-12-31", Limit: 2}
	for more := true; more; {
		var page []trace.LeftOut
		if page, more, err = u.LeftOut(ctx, a, q); err != nil || len(page) > 2 || len(page) == 0 {
			t.Fatal(len(page), err)
		}
		paged = append(paged, page...)
		q.Start, q.After = page[len(page)-1].Start, page[len(page)-1].Treatment
	}
	if !reflect.DeepEqual(paged, whole) {
		t.Errorf("in pages %+v, whole %+v", paged, whole)
	}
	// Without days, those of the time when the lot may have been here.
	within, _, err := u.LeftOut(ctx, a, trace.LeftOutQuestion{})
	if err != nil || len(within) != len(whole)-2 {
		t.Errorf("%d within its time, %v; without the one before and the one after %d", len(within), err, len(whole)-2)
	}
	// Of a lot that was never seen all are left out, and no days are its time.
	never, _ := u.exposures("DLZ", "D9")
	if _, _, err := u.LeftOut(ctx, never, trace.LeftOutQuestion{}); !errors.Is(err, inventory.ErrInvalid) {
		t.Errorf("the time of a lot that was never seen: %v", err)
	}
	all, _, err := u.LeftOut(ctx, never, trace.LeftOutQuestion{From: "2026-03-02"})
	if err != nil || len(all) != len(lines) || slices.ContainsFunc(all, func(x trace.LeftOut) bool { return x.Code == "" || x.Why == "" }) {
		t.Errorf("of a lot that was never seen %d of %d are left out: %v %+v", len(all), len(lines), err, all)
	}
	if _, _, err := u.LeftOut(ctx, a, trace.LeftOutQuestion{From: "yesterday"}); !errors.Is(err, inventory.ErrInvalid) {
		t.Errorf("a day that is none: %v", err)
	}
}

// How completely the kind was recorded stands beside the answer, by week and by
// how it is known.
func TestHowCompleteTheRecordIs(t *testing.T) {
	u := newUnit(t)
	dialyzerScene(u)
	a, _ := u.exposures("DLZ", "D1")
	if len(a.Completeness) != 1 {
		t.Fatalf("%+v", a.Completeness)
	}
	x := a.Completeness[0]
	// Of the first treatment on: 12 opened, one did not take place, 3 have a
	// lot, 1 did without, 7 lack one.
	want := trace.OnRecord{Scanned: 3, DoneWithout: 1, Without: 7}
	if !x.Kept || x.Category != inventory.Dialyzer || x.Total != want || x.Total.Treatments() != 11 {
		t.Errorf("%+v, want %+v", x, want)
	}
	var weeks trace.OnRecord
	for i, w := range x.Weeks {
		if w.Week.Weekday() != time.Monday || i > 0 && !w.Week.After(x.Weeks[i-1].Week) {
			t.Errorf("week %v", w.Week)
		}
		weeks.Scanned += w.Scanned
		weeks.Without += w.Without
	}
	if weeks.Scanned != 3 || weeks.Without != 7 {
		t.Errorf("the weeks add up to %+v", weeks)
	}
	if a.Counted == 0 || len(a.Differences) == 0 || a.Counted < len(a.Differences) {
		t.Errorf("counted %d times, %d differed", a.Counted, len(a.Differences))
	}
	// What is found later takes its place.
	u.clock.pass(time.Hour)
	var late trace.TreatmentID
	for _, l := range a.Unrecorded {
		late = l.Treatment
	}
	u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{Treatment: late, How: trace.Typed, Stock: inventory.Stock{Product: "DLZ", Lot: "D2"}}))
	if a, _ := u.exposures("DLZ", "D1"); a.Completeness[0].Total != (trace.OnRecord{Scanned: 3, Typed: 1, DoneWithout: 1, Without: 6}) {
		t.Errorf("after a lot was found: %+v", a.Completeness[0].Total)
	}
}

// Whoever borrowed some is in the answer, and so are the stations.
func TestOtherUnitsAndStations(t *testing.T) {
	u := newUnit(t)
	u.ok(u.SetLocation(ctx, u.by("stock"), inventory.Location{ID: "east", Name: "Unit East", Type: inventory.OtherUnit}))
	u.receive("DLZ", "D1", "2027-06-30", 9, "cart-a")
	u.treated("P1", "S1", gtinDialyzer, "D1")
	lend := func(n int64, to string) {
		u.ok(u.Depart(ctx, u.by("stock"), inventory.Departed{Stock: inventory.Stock{Product: "DLZ", Lot: "D1", Quantity: n}, From: "cart-a", How: inventory.HowLent, Other: to}))
		u.clock.pass(time.Hour)
	}
	lend(2, "Unit East")
	lend(1, "Unit West") // on no list of places
	lend(1, "Unit East")
	u.ok(u.Borrow(ctx, u.by("stock"), inventory.Borrowed{Stock: inventory.Stock{Product: "DLZ", Lot: "D1", Quantity: 3}, To: "cart-a", Other: "Unit East"}))
	a, _ := u.exposures("DLZ", "D1")
	if len(a.Units) != 2 {
		t.Fatalf("%+v", a.Units)
	}
	if e, w := a.Units[0], a.Units[1]; e.Unit != "Unit East" || e.Lent != 3 || e.Taken != 3 || len(e.Entries) != 3 || w.Unit != "Unit West" || w.Lent != 1 || w.Taken != 0 {
		t.Errorf("%+v", a.Units)
	}
	if len(a.Stations) != 1 || a.Stations[0].Station != "S1" || a.Stations[0].Grade != trace.Confirmed || a.Stations[0].Treatments != 1 {
		t.Errorf("%+v", a.Stations)
	}
}
