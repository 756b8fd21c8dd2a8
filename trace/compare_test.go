package trace_test

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

func (u *unit) compare(q trace.Comparing) *trace.Comparison {
	u.t.Helper()
	c, err := u.Compare(ctx, q)
	if err != nil {
		u.t.Fatal(err)
	}
	return c
}

func casesOf(ids ...trace.TreatmentID) (list []trace.Case) {
	for _, id := range ids {
		list = append(list, trace.Case{Treatment: id})
	}
	return list
}

// shared returns a factor of an answer; its test fails if there is none.
func (u *unit) shared(c *trace.Comparison, kind trace.FactorKind, product inventory.ProductID, id string) *trace.SharedFactor {
	u.t.Helper()
	for i := range c.Factors {
		if x := &c.Factors[i]; x.Kind == kind && x.Product == product && x.ID == id {
			return x
		}
	}
	u.t.Fatalf("%s %s %s was not looked at", kind, product, id)
	return nil
}

// splits checks how many met a factor.
func (u *unit) splits(what string, got trace.Contrast, cases, others trace.Split) {
	u.t.Helper()
	if got.Cases != cases || got.Others != others {
		u.t.Errorf("%s: cases %+v, others %+v; want %+v and %+v", what, got.Cases, got.Others, cases, others)
	}
}

// everyone adds patients.
func (u *unit) everyone(n int) (ids []trace.PatientID) {
	for i := range n {
		id := trace.PatientID(fmt.Sprintf("Q%02d", i))
		u.ok(u.SetPatient(ctx, u.by("nurse"), trace.PatientSet{ID: id, Name: "Invented " + string(id)}))
		u.ok(u.SetPrescription(ctx, u.by("nurse"), trace.PrescriptionSet{Patient: id, Prescription: prescription()}))
		ids = append(ids, id)
	}
	return ids
}

// A published outbreak, put into the record treatment by treatment: of 19
// patients with a reaction 10 had been exposed, of 20 without one 1 (Blood
// 96:1703, 2000: P 0.00125, exact 95 % interval 2.201 to 962.8).
func TestAPublishedOutbreak(t *testing.T) {
	u := newUnit(t)
	var ids []trace.TreatmentID
	for i, p := range u.everyone(39) {
		lot, bloodline := "D-GOOD", "B-1"
		if i < 10 || i == 19 {
			lot = "D-BAD"
		}
		if i%2 == 1 {
			bloodline = "B-2"
		}
		ids = append(ids, u.treated(p, "S1", gtinDialyzer, lot, gtinBloodline, bloodline))
	}
	c := u.compare(trace.Comparing{Cases: casesOf(ids[:19]...)})
	x := &c.Factors[0]
	if x.Kind != trace.FactorLot || x.ID != "D-BAD" || x.Name != "Dialyzer 1.8" {
		t.Fatalf("first is %+v", x.Factor)
	}
	for _, f := range []trace.Contrast{x.Treatments, x.Patients} {
		u.splits("the lot", f, trace.Split{Met: 10, NotMet: 9}, trace.Split{Met: 1, NotMet: 19})
		m := f.Known
		if math.Abs(m.P-0.00125) > 5e-6 || math.Abs(float64(m.Low)-2.201) > 5e-4 || math.Abs(float64(m.High)-962.8) > 0.05 {
			t.Errorf("%+v", m)
		}
		if f.Least != m || f.Most != m {
			t.Errorf("everything is known, and yet %+v and %+v", f.Least, f.Most)
		}
	}
	// The other lot is the same table turned round; it is the last but for
	// what is at all the treatments.
	other := u.shared(c, trace.FactorLot, "DLZ", "D-GOOD")
	if other.Treatments.Known.P != x.Treatments.Known.P || other.Treatments.Known.OddsRatio >= 1 || other.StandsOut {
		t.Errorf("%+v", other)
	}
	if m := u.shared(c, trace.FactorMachine, "", "M1"); m.Treatments.Known.OddsRatio.Defined() || m.Treatments.Known.P != 1 {
		t.Errorf("a machine of all treatments: %+v", m.Treatments.Known)
	}
	// 2 dialyzers, 2 bloodline sets, a machine, a station, three shifts.
	if c.Looked != 9 || len(c.Factors) != 9 || math.Abs(x.Treatments.Corrected-9*x.Treatments.Known.P) > 1e-12 || !x.StandsOut || !x.Holds {
		t.Errorf("%d looked at, corrected %v: %s", c.Looked, x.Treatments.Corrected, x.Words)
	}
	if c.Treatments != (trace.Compared{Cases: 19, Others: 20}) || c.Patients != c.Treatments || c.MostOfOne != 1 {
		t.Errorf("%+v, %+v", c.Treatments, c.Patients)
	}
	for _, word := range []string{"does not say that one causes", "looked at", "after the cases were seen"} {
		if !strings.Contains(strings.Join(c.Limits, " "), word) {
			t.Errorf("the limits do not say %q: %q", word, c.Limits)
		}
	}
	// The others can be named.
	named := u.compare(trace.Comparing{Cases: casesOf(ids[:19]...), Others: casesOf(ids[19:29]...)})
	u.splits("named", u.shared(named, trace.FactorLot, "DLZ", "D-BAD").Treatments, trace.Split{Met: 10, NotMet: 9}, trace.Split{Met: 1, NotMet: 9})
	if !named.Named {
		t.Error("it isn't said that the others were named")
	}
}

// What nobody wrote down is counted by itself, and its possible weight shown.
func TestNotRecordedIsNotUnexposed(t *testing.T) {
	u := newUnit(t)
	ps := u.everyone(8)
	var ids []trace.TreatmentID
	for i, p := range ps {
		switch i {
		case 0, 1, 2:
			ids = append(ids, u.treated(p, "S1", gtinDialyzer, "D-1"))
		case 3, 7: // nobody scanned the dialyzer
			ids = append(ids, u.treated(p, "S1", gtinBloodline, "B-1"))
		default:
			ids = append(ids, u.treated(p, "S1", gtinDialyzer, "D-2"))
		}
	}
	c := u.compare(trace.Comparing{Cases: casesOf(ids[:4]...)})
	x := u.shared(c, trace.FactorLot, "DLZ", "D-1")
	u.splits("the lot", x.Treatments, trace.Split{Met: 3, Unknown: 1}, trace.Split{NotMet: 3, Unknown: 1})
	// Known: 3/3 against 0/3, p = 2/C(6,3) = 0.1. Least: 3/4 against 1/4, the
	// tea tasting's table, p = 0.4857. Most: 4/4 against 0/4, p = 2/C(8,4).
	for _, f := range []struct {
		what      string
		got, want float64
	}{
		{"known", x.Treatments.Known.P, 0.1},
		{"least", x.Treatments.Least.P, 34.0 / 70},
		{"most", x.Treatments.Most.P, 2.0 / 70},
		{"as not met", x.Treatments.NotMet.P, 10.0 / 70},
		{"as met", x.Treatments.Met.P, 10.0 / 70},
	} {
		if math.Abs(f.got-f.want) > 1e-9 {
			t.Errorf("%s: p %v, not %v", f.what, f.got, f.want)
		}
	}
	if !(x.Treatments.Least.OddsRatio <= x.Treatments.Known.OddsRatio) || !x.Treatments.Most.OddsRatio.Infinite() {
		t.Errorf("from %v to %v", x.Treatments.Least.OddsRatio, x.Treatments.Most.OddsRatio)
	}
	if !strings.Contains(x.Words, "it is not known") || x.StandsOut {
		t.Errorf("%s", x.Words)
	}
	// The bloodline set was scanned at two treatments and nowhere else: of the
	// others it isn't known.
	u.splits("the bloodline set", u.shared(c, trace.FactorLot, "BLS", "B-1").Treatments, trace.Split{Met: 1, Unknown: 3}, trace.Split{Met: 1, Unknown: 3})
	// A test strip is asked for by no rule: without a record nothing is known.
	strip := u.open(ps[0], "S2")
	u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{Treatment: strip, How: trace.Scanned, Reason: "checked twice", Stock: inventory.Stock{GTIN: gtinStrips, Lot: "ST-1"}}))
	u.clock.pass(4 * time.Hour)
	u.close(strip)
	c = u.compare(trace.Comparing{Cases: casesOf(ids[:4]...)})
	u.splits("the strips", u.shared(c, trace.FactorLot, "STR", "ST-1").Treatments, trace.Split{Unknown: 4}, trace.Split{Met: 1, Unknown: 4})
}

// Before the unit asked for a record of a kind by lot, having none means nothing;
// since then a treatment of which none was required did without.
func TestBeforeTheUnitAsked(t *testing.T) {
	u := newUnit(t)
	ps := u.everyone(4)
	early := u.treated(ps[0], "S1", gtinDialyzer, "D-1")
	u.clock.pass(time.Hour)
	var set inventory.Unit
	u.view(func(r inventory.Reader) error {
		is, err := u.Unit(r)
		set = *is
		return err
	})
	set.Rules.Needs = slices.Clone(set.Rules.Needs)
	for i := range set.Rules.Needs {
		if n := &set.Rules.Needs[i]; n.Category == inventory.CatheterCap {
			n.Scan = true
		}
	}
	u.ok(u.SetProducts(ctx, u.by("admin"), inventory.Product{ID: "CAP", Name: "Catheter cap", Category: inventory.CatheterCap, Packs: []inventory.Pack{{Level: inventory.LevelEach, GTIN: gtinUncatalogd, Holds: 1}}}))
	u.ok(u.SetUnit(ctx, u.by("admin"), set))
	u.clock.pass(time.Hour)
	rx := prescription()
	rx.Access = inventory.Catheter
	u.ok(u.SetPrescription(ctx, u.by("nurse"), trace.PrescriptionSet{Patient: ps[2], Prescription: rx}))
	u.treated(ps[1], "S1", gtinDialyzer, "D-1") // through a fistula: no caps
	id := u.open(ps[2], "S1")
	u.scan(id, gtinUncatalogd, "C-1")
	u.scan(id, gtinUncatalogd, "C-1")
	u.clock.pass(4 * time.Hour)
	u.close(id)
	c := u.compare(trace.Comparing{Cases: casesOf(early)})
	u.splits("the caps", u.shared(c, trace.FactorLot, "CAP", "C-1").Treatments, trace.Split{Unknown: 1}, trace.Split{Met: 1, NotMet: 1})
}

// What took over only after the reaction can't be behind it. What was recorded
// late, and took over from nothing, can.
func TestTheTimeOfTheReaction(t *testing.T) {
	u := newUnit(t)
	ps := u.everyone(2)
	u.receive("DLZ", "D-1", "2028-01-31", 20, "cart-a")
	id := u.open(ps[0], "S1")
	u.scan(id, gtinDialyzer, "D-1")
	u.clock.pass(time.Hour)
	reaction := u.clock.at
	u.clock.pass(time.Hour)
	use := u.lastUse(id)
	u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{Treatment: id, How: trace.Scanned, Replaces: use, Cause: "clotted", Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "D-2"}}))
	u.scan(id, gtinBloodline, "B-LATE")
	u.clock.pass(time.Hour)
	u.close(id)
	u.treated(ps[1], "S2", gtinDialyzer, "D-1", gtinBloodline, "B-2")
	for _, q := range []trace.Case{{Treatment: id, At: reaction}, {Patient: ps[0], At: reaction}} {
		c := u.compare(trace.Comparing{Cases: []trace.Case{q}})
		if c.Cases[0].Treatment != id || c.Cases[0].Patient != ps[0] || c.Cases[0].Name == "" {
			t.Errorf("found %+v", c.Cases)
		}
		if slices.ContainsFunc(c.Factors, func(x trace.SharedFactor) bool { return x.ID == "D-2" }) {
			t.Error("the dialyzer that took over after the reaction is looked at")
		}
		u.splits("the first dialyzer", u.shared(c, trace.FactorLot, "DLZ", "D-1").Treatments, trace.Split{Met: 1}, trace.Split{Met: 1})
		u.splits("what was recorded late", u.shared(c, trace.FactorLot, "BLS", "B-LATE").Treatments, trace.Split{Met: 1}, trace.Split{NotMet: 1})
	}
	if c := u.compare(trace.Comparing{Cases: casesOf(id)}); u.shared(c, trace.FactorLot, "DLZ", "D-2").Treatments.Cases.Met != 1 {
		t.Error("without a time both dialyzers count")
	}
}

func (u *unit) lastUse(id trace.TreatmentID) (entry uint64) {
	u.t.Helper()
	u.view(func(r inventory.Reader) error {
		t, err := trace.TreatmentByID(r, id)
		if err == nil {
			entry = t.Uses[len(t.Uses)-1].Entry
		}
		return err
	})
	return entry
}

// A patient counts once, however many treatments there were; a case of which
// only the patient is known counts with all of them.
func TestPatientsCountOnce(t *testing.T) {
	u := newUnit(t)
	ps := u.everyone(3)
	var first trace.TreatmentID
	for day := range 3 {
		for i, p := range ps {
			lot := "D-1"
			if day == 2 {
				lot = "D-2"
			}
			id := u.treated(p, "S1", gtinDialyzer, lot)
			if day == 0 && i == 0 {
				first = id
			}
		}
	}
	c := u.compare(trace.Comparing{Cases: casesOf(first)})
	x := u.shared(c, trace.FactorLot, "DLZ", "D-2")
	u.splits("by treatment", x.Treatments, trace.Split{NotMet: 1}, trace.Split{Met: 3, NotMet: 5})
	u.splits("by patient", x.Patients, trace.Split{Met: 1}, trace.Split{Met: 2})
	if c.Patients != (trace.Compared{Cases: 1, Others: 2}) {
		t.Errorf("%+v", c.Patients)
	}
	day := inventory.DateOf(u.clock.at, time.UTC)
	c = u.compare(trace.Comparing{Cases: []trace.Case{{Patient: ps[0]}}, From: day.AddDays(-9), To: day})
	x = u.shared(c, trace.FactorLot, "DLZ", "D-2")
	u.splits("all of a patient's", x.Treatments, trace.Split{Met: 1, NotMet: 2}, trace.Split{Met: 2, NotMet: 4})
	if c.MostOfOne != 3 || len(c.Cases) != 3 || c.Judged != trace.ByPatient {
		t.Errorf("%d of one patient, %d cases, judged by %s", c.MostOfOne, len(c.Cases), c.Judged)
	}
}

// A problem that was recorded at the chair names its treatment and the time.
func TestACaseIsAProblem(t *testing.T) {
	u := newUnit(t)
	ps := u.everyone(2)
	id := u.open(ps[0], "S1")
	u.scan(id, gtinDialyzer, "D-1")
	u.clock.pass(time.Hour)
	seen := u.clock.at
	p := u.report(trace.ProblemFacts{Treatment: id, Category: inventory.Dialyzer}).Problem
	u.clock.pass(time.Hour)
	u.close(id)
	u.treated(ps[1], "S2", gtinDialyzer, "D-2")
	c := u.compare(trace.Comparing{Cases: []trace.Case{{Problem: p}}})
	if x := c.Cases[0]; x.Treatment != id || x.Problem != p || !x.At.Equal(seen) || x.Patient != ps[0] || c.Judged != trace.ByTreatment {
		t.Errorf("found %+v", x)
	}
	alone := u.report(trace.ProblemFacts{Product: "DLZ", Lot: "D-1"}).Problem
	for what, x := range map[string]trace.Case{"no such problem": {Problem: "PR999"}, "another treatment": {Problem: p, Treatment: "T999"}, "no treatment": {Problem: alone}} {
		_, err := u.Compare(ctx, trace.Comparing{Cases: []trace.Case{x}})
		if r := (*inventory.Refusal)(nil); !errors.As(err, &r) || r.Hint == "" {
			t.Errorf("%s: %v", what, err)
		}
	}
}

// What can't be compared is told with what to do, and for each line of a list.
func TestWhatCannotBeCompared(t *testing.T) {
	u := newUnit(t)
	id := u.treated("P1", "S1", gtinDialyzer, "D-1")
	gone := u.open("P2", "S2")
	u.ok(u.Close(ctx, u.by("nurse"), trace.Closing{Treatment: gone, NotDone: true, Note: "did not come"}))
	days, many := -1, 401
	for what, q := range map[string]trace.Comparing{
		"no cases":             {},
		"neither":              {Cases: []trace.Case{{}}},
		"no such treatment":    {Cases: casesOf("T999")},
		"no such patient":      {Cases: []trace.Case{{Patient: "P9", At: u.clock.at}}},
		"not done":             {Cases: casesOf(gone)},
		"another's":            {Cases: []trace.Case{{Treatment: id, Patient: "P2"}}},
		"before it began":      {Cases: []trace.Case{{Treatment: id, At: u.clock.at.Add(-240 * time.Hour)}}},
		"no treatment by then": {Cases: []trace.Case{{Patient: "P1", At: u.clock.at.Add(240 * time.Hour)}}},
		"no time":              {Cases: []trace.Case{{Patient: "P1"}}},
		"nothing in that time": {Cases: []trace.Case{{Patient: "P1"}}, From: "2020-01-01", To: "2020-01-31"},
		"outside":              {Cases: casesOf(id), From: "2020-01-01", To: "2020-01-31"},
		"both":                 {Cases: casesOf(id), Others: casesOf(id)},
		"one end":              {Cases: casesOf(id), From: "2026-03-01"},
		"no date":              {Cases: casesOf(id), From: "March", To: "2026-03-01"},
		"too long":             {Cases: casesOf(id), From: "2020-01-01", To: "2026-03-31"},
		"alpha":                {Cases: casesOf(id), Alpha: 5},
		"days":                 {Cases: casesOf(id), Days: &days},
		"many days":            {Cases: casesOf(id), Days: &many},
		"hours":                {Cases: casesOf(id), Within: -1},
	} {
		_, err := u.Compare(ctx, q)
		if r := (*inventory.Refusal)(nil); !errors.As(err, &r) || r.Hint == "" || r.Message == "" {
			t.Errorf("%s: %v", what, err)
		}
	}
	_, err := u.Compare(ctx, trace.Comparing{Cases: casesOf(id, "T998", "T999")})
	if err == nil || !strings.Contains(err.Error(), "line 2") || !strings.Contains(err.Error(), "line 3") {
		t.Errorf("%v", err)
	}
	// One case and nothing else: it is said, and nothing is made up.
	c := u.compare(trace.Comparing{Cases: casesOf(id, id)})
	if len(c.Cases) != 1 || c.NotDone != 1 || !slices.Contains(c.Limits, "There is no other treatment to compare with.") {
		t.Errorf("%+v, %d not done, %q", c.Cases, c.NotDone, c.Limits)
	}
	for _, x := range c.Factors {
		if x.Treatments.Known.OddsRatio.Defined() || x.StandsOut {
			t.Errorf("%+v", x)
		}
	}
}
