package trace_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"lotbook/trace"
)

// Six reactions of one patient are one case: what the patient always meets does
// not stand out, however small p is by treatment.
func TestReactionsOfOnePatient(t *testing.T) {
	u := newUnit(t)
	ps := u.everyone(13)
	var cases []trace.TreatmentID
	for i, p := range ps {
		if i < 12 {
			u.treated(p, "S1", gtinDialyzer, "D-1")
			continue
		}
		for range 6 {
			cases = append(cases, u.treated(p, "S2", gtinDialyzer, "D-2"))
		}
	}
	c := u.compare(trace.Comparing{Cases: casesOf(cases...)})
	x := u.shared(c, trace.FactorLot, "DLZ", "D-2")
	u.splits("by treatment", x.Treatments, trace.Split{Met: 6}, trace.Split{NotMet: 12})
	u.splits("one of each", x.OneEach, trace.Split{Met: 1}, trace.Split{NotMet: 12})
	u.splits("by patient", x.Patients, trace.Split{Met: 1}, trace.Split{NotMet: 12})
	if x.Treatments.Corrected > 0.001 || math.Abs(x.OneEach.Known.P-1.0/13) > 1e-9 || c.Judged != trace.ByOne || x.StandsOut || len(c.StandingOut()) != 0 {
		t.Errorf("judged by %s: p %v by treatment, %v by one of each", c.Judged, x.Treatments.Corrected, x.OneEach.Known.P)
	}
	// Machine, station and lot were met by the same treatments.
	if len(x.Like) != 2 {
		t.Errorf("met by the same: %v", x.Like)
	}
	if !slices.ContainsFunc(c.Limits, func(s string) bool { return strings.Contains(s, "One patient has 6 of the 6 cases") }) {
		t.Errorf("%q", c.Limits)
	}
}

// What stands out only as long as a patient is among the cases is said to.
func TestItRestsOnOnePatient(t *testing.T) {
	u := newUnit(t)
	var cases []trace.TreatmentID
	for i, p := range u.everyone(26) {
		lot := "D-1"
		if i < 3 {
			lot = "D-2"
		}
		id := u.treated(p, "S1", gtinDialyzer, lot)
		if i < 3 {
			cases = append(cases, id)
		}
	}
	// 3/3 against 0/23: p = 1/C(26,3) = 1/2600; without one 2/2 against 0/23,
	// 1/C(25,2) = 1/300.
	c := u.compare(trace.Comparing{Cases: casesOf(cases...), Alpha: 0.003 * 7})
	x := u.shared(c, trace.FactorLot, "DLZ", "D-2")
	if !x.StandsOut || math.Abs(x.Treatments.Known.P-1.0/2600) > 1e-9 || x.Without == nil || math.Abs(x.Without.P-1.0/300) > 1e-9 {
		t.Errorf("%+v: %s", x.Without, x.Words)
	}
	if strings.Contains(x.Words, "rests on patient") {
		t.Errorf("it does not rest on one: %s", x.Words)
	}
	// All three were on one day, with one other that did not meet it: 1/C(4,3).
	if x.SameDays == nil || math.Abs(*x.SameDays-0.25) > 1e-9 || !strings.Contains(x.Words, "in use on these days may be behind it") {
		t.Errorf("on the same days: %v: %s", x.SameDays, x.Words)
	}
	c = u.compare(trace.Comparing{Cases: casesOf(cases...), Alpha: 0.0032})
	if x := u.shared(c, trace.FactorLot, "DLZ", "D-2"); !x.StandsOut || !strings.Contains(x.Words, "rests on patient") {
		t.Errorf("%d looked at: %s", c.Looked, x.Words)
	}
}
