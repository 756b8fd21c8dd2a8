package trace_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

func (u *unit) report(f trace.ProblemFacts) *trace.ProblemReported {
	u.t.Helper()
	return event[*trace.ProblemReported](u, u.ok(u.ReportProblem(ctx, u.by("nurse"), f)))
}

func (u *unit) follow(id trace.ProblemID, f trace.ProblemFacts) inventory.Receipt {
	u.t.Helper()
	return u.ok(u.FollowProblem(ctx, u.by("quality"), trace.FollowUp{Problem: id, ProblemFacts: f}))
}

func (u *unit) problem(id trace.ProblemID) (p *trace.Problem) {
	u.t.Helper()
	u.view(func(r inventory.Reader) (err error) { p, err = trace.ProblemByID(r, id); return err })
	return p
}

func (u *unit) draft(id trace.ProblemID) map[string]trace.DraftField {
	u.t.Helper()
	d, err := u.DraftProblem(ctx, id, func(id string) string { return "The " + id })
	if err != nil {
		u.t.Fatal(err)
	}
	out := map[string]trace.DraftField{}
	for _, f := range d.Fields {
		if f.Recorded != (f.Value != "") || !f.Recorded && f.Source != "" {
			u.t.Errorf("field %+v", f)
		}
		out[f.Key] = f
	}
	return out
}

// One touch: the treatment and the kind of product are enough, and what the
// record knows of the item is filled in.
func TestAProblemByOneTouch(t *testing.T) {
	u := newUnit(t)
	id := u.open("P1", "S1")
	code := "01" + gtinDialyzer + "17280331" + "10D-1\x1d21S9"
	use := u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{Treatment: id, How: trace.Scanned, Code: code, Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "D-1", Serial: "S9", Expires: "2028-03-31"}})).Entries[0].Seq
	u.scan(id, gtinBloodline, "B-1")
	u.clock.pass(time.Hour)
	ev := u.report(trace.ProblemFacts{Treatment: id, Category: inventory.Dialyzer})
	want := trace.ProblemFacts{
		Treatment: id, Use: use, Category: inventory.Dialyzer, Product: "DLZ", GTIN: gtinDialyzer, Lot: "D-1", Serial: "S9", Expires: "2028-03-31", Code: code,
	}
	if fmt.Sprint(ev.ProblemFacts) != fmt.Sprint(want) {
		t.Errorf("filled in\n%+v, want\n%+v", ev.ProblemFacts, want)
	}
	p := u.problem(ev.Problem)
	if !p.At.Equal(u.clock.at) || p.By != "nurse" || p.Lot != "D-1" || len(p.Parts) != 1 {
		t.Errorf("problem %+v", p)
	}
	d := u.draft(ev.Problem)
	for key, want := range map[string]string{
		"patient_code": string(ev.Problem), "lot": "D-1", "serial": "S9", "expires": "2028-03-31", "udi": "(01)" + gtinDialyzer + "(17)280331(10)D-1(21)S9",
		"common_name": "Dialyzer", "other_products": "Bloodline set: Bloodline set, lot B-1", "reporter": "The nurse", "place": "Station 1, Dialysis unit",
		"event_date": "2026-03-02 07:00 UTC", "other_number": "GTIN " + gtinDialyzer,
	} {
		if d[key].Value != want || d[key].Source == "" {
			t.Errorf("%s is %q from %q, want %q", key, d[key].Value, d[key].Source, want)
		}
	}
	// What nobody recorded is not guessed.
	for _, key := range []string{"patient_age", "patient_sex", "patient_weight", "brand", "model", "catalogue_number", "maker", "outcomes", "aware", "available", "event", "narrative"} {
		if f, ok := d[key]; !ok || f.Recorded {
			t.Errorf("%s: %+v, want not recorded", key, f)
		}
	}
	for _, f := range d {
		if strings.Contains(f.Value+f.Hint, "Invented P1") {
			t.Errorf("the patient's name is in the draft: %+v", f)
		}
	}
}

// Where the record leaves open which lot it was, the problem leaves it open too.
func TestAProblemGuessesNothing(t *testing.T) {
	u := newUnit(t)
	id := u.open("P1", "S1")
	if ev := u.report(trace.ProblemFacts{Treatment: id, Category: inventory.Dialyzer}); ev.Product != "" || ev.Lot != "" || ev.Use != 0 {
		t.Errorf("nothing was scanned: %+v", ev)
	}
	u.scan(id, gtinNeedle, "N-1")
	u.scan(id, gtinNeedle, "N-1")
	if ev := u.report(trace.ProblemFacts{Treatment: id, Category: inventory.FistulaNeedle}); ev.Lot != "N-1" || ev.Use != 0 {
		t.Errorf("two of one lot: %+v", ev)
	}
	u.scan(id, gtinNeedle, "N-2")
	ev := u.report(trace.ProblemFacts{Treatment: id, Category: inventory.FistulaNeedle})
	if ev.Lot != "" || ev.Product != "" {
		t.Errorf("two lots: %+v", ev)
	}
	d, err := u.DraftProblem(ctx, ev.Problem, nil)
	if err != nil || !strings.Contains(strings.Join(d.Notes, "\n"), `lot "N-2"`) {
		t.Errorf("the draft does not name the lots in use: %v %v", d.Notes, err)
	}
	if ev := u.report(trace.ProblemFacts{Treatment: id, Lot: "N-2"}); ev.Product != "NDL" || ev.Use == 0 {
		t.Errorf("its lot said: %+v", ev)
	}
	// One that was replaced before was not in use any more.
	first := u.scan(id, gtinDialyzer, "D-1").Entries[0].Seq
	u.clock.pass(time.Hour)
	u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{Treatment: id, How: trace.Scanned, Replaces: first, Cause: "clotted", Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "D-2"}}))
	if ev := u.report(trace.ProblemFacts{Treatment: id, Category: inventory.Dialyzer}); ev.Lot != "D-2" {
		t.Errorf("after a replacement: %+v", ev)
	}
	if ev := u.report(trace.ProblemFacts{Treatment: id, Use: first}); ev.Lot != "D-1" || ev.Category != inventory.Dialyzer {
		t.Errorf("of the one replaced: %+v", ev)
	}
	// Nothing at all but words, and nothing at all.
	if ev := u.report(trace.ProblemFacts{Words: "a box stood in water"}); ev.Treatment != "" {
		t.Errorf("words alone: %+v", ev)
	}
	if _, err := u.ReportProblem(ctx, u.by("nurse"), trace.ProblemFacts{Words: " "}); !errors.Is(err, inventory.ErrInvalid) {
		t.Errorf("nothing: %v", err)
	}
}

// The batch in the tank is the lot of what feeds the station.
func TestAProblemAtAFedStation(t *testing.T) {
	u := newUnit(t)
	u.mixing()
	u.mix("B1", "TA", trace.IntoEmpty, "G1")
	u.feed("TA")
	id := u.open("P1", "S1")
	if ev := u.report(trace.ProblemFacts{Treatment: id, Category: inventory.AcidConcentrate}); ev.Product != "MIX" || ev.Lot != "B1" {
		t.Errorf("%+v", ev)
	}
}

// Follow-ups say more and better; each stays, each can be struck out, and what
// was said before then counts again.
func TestFollowUps(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "D-1", "2028-03-31", 10, "cart-a")
	u.ok(u.SetProblems(ctx, u.by("admin"), trace.ProblemSettings{WithinDays: 60, AtLeast: 3, Seen: []trace.SeenKind{{Code: "squeak", Text: "Squeaks"}}}))
	id := u.open("P1", "S1")
	u.scan(id, gtinDialyzer, "D-1")
	other := u.report(trace.ProblemFacts{Treatment: id, Seen: []string{"squeak"}}).Problem
	u.ok(u.PictureProblem(ctx, u.by("nurse"), trace.Picturing{Problem: other, About: "the seal", JPEG: []byte("\xff\xd8"), Width: 4, Height: 3}))
	ev := u.report(trace.ProblemFacts{Treatment: id, Category: inventory.Dialyzer, Seen: []string{"leak", "leak"}, Words: "dripped at the lower port"})
	u.clock.pass(time.Hour)
	u.follow(ev.Problem, trace.ProblemFacts{
		Seen: []string{"blood_leak"}, Words: "it was blood", Kept: trace.KeptHere, KeptWhere: "shelf 3, bag 7", Outcomes: []trace.Outcome{trace.OutcomeNone},
		Done: "blood returned by hand", Details: map[string]string{"patient_age": "67 years", "brand": "Exemplar 18"},
	})
	wrong := u.follow(ev.Problem, trace.ProblemFacts{Lot: "D-2", Details: map[string]string{"patient_age": "76 years"}}).Entries[0].Seq
	p := u.problem(ev.Problem)
	if p.Lot != "D-2" || p.Product != "DLZ" || p.Use != 0 || p.Expires != "" || p.Details["patient_age"] != "76 years" || p.Details["brand"] != "Exemplar 18" {
		t.Errorf("after another lot was said: %+v", p.ProblemFacts)
	}
	u.ok(u.Correct(ctx, u.by("quality"), wrong, "read wrongly"))
	p = u.problem(ev.Problem)
	if p.Lot != "D-1" || p.Use == 0 || p.Details["patient_age"] != "67 years" || !slices.Equal(p.Seen, []string{"blood_leak"}) || p.Parts[2].Struck == 0 {
		t.Errorf("after that was struck out: %+v", p)
	}
	d := u.draft(ev.Problem)
	for key, want := range map[string]string{
		"narrative": "2026-03-02 06:00: dripped at the lower port\n2026-03-02 07:00: it was blood\n2026-03-02 07:00, done for the patient: blood returned by hand",
		"event":     "Blood leak", "outcomes": "No harm seen", "available": "Kept: shelf 3, bag 7", "patient_age": "67 years", "brand": "Exemplar 18", "expires": "2028-03-31",
	} {
		if d[key].Value != want {
			t.Errorf("%s is %q, want %q", key, d[key].Value, want)
		}
	}
	if !strings.Contains(d["patient_age"].Source, "by The quality") || !strings.Contains(d["expires"].Source, "lot") {
		t.Errorf("sources: %+v %+v", d["patient_age"], d["expires"])
	}
	// The use was another lot after all: the draft says that its ground is gone.
	u.ok(u.Correct(ctx, u.by("nurse"), p.Use, "another lot"))
	draft, err := u.DraftProblem(ctx, ev.Problem, nil)
	if err != nil || !strings.Contains(strings.Join(draft.Notes, "\n"), "look whether they are right") {
		t.Errorf("%v %v", draft.Notes, err)
	}
	// Struck out, it is in no list, takes no follow-ups, and can still be read.
	u.ok(u.Correct(ctx, u.by("nurse"), ev0(u, ev.Problem), "no problem"))
	if p := u.problem(ev.Problem); p.Struck == 0 {
		t.Error("not struck out")
	}
	if _, err := u.FollowProblem(ctx, u.by("nurse"), trace.FollowUp{Problem: ev.Problem, ProblemFacts: trace.ProblemFacts{Words: "x"}}); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("a follow-up of one struck out: %v", err)
	}
	if _, err := u.DraftProblem(ctx, ev.Problem, nil); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("a draft of one struck out: %v", err)
	}
	if l := u.problems(trace.ProblemQuery{}); len(l.Problems) != 1 || l.Problems[0].ID != other {
		t.Errorf("listed: %+v", l.Problems)
	}
}

func ev0(u *unit, id trace.ProblemID) uint64 { return u.problem(id).Entry }

func (u *unit) problems(q trace.ProblemQuery) *trace.ProblemList {
	u.t.Helper()
	l, err := u.ProblemTable(ctx, q)
	if err != nil {
		u.t.Fatal(err)
	}
	if len(l.Rows) != len(l.List.Problems) {
		u.t.Errorf("%d rows of %d problems", len(l.Rows), len(l.List.Problems))
	}
	return l.List
}

// Problems of a lot within the time are brought together, those too far apart are
// not; one of a product that was scanned before it was catalogued is the
// product's.
func TestProblemsTogether(t *testing.T) {
	u := newUnit(t)
	day := 24 * time.Hour
	say := func(p inventory.ProductID, gtin, lot string) trace.ProblemID {
		t.Helper()
		return u.report(trace.ProblemFacts{Product: p, GTIN: gtin, Lot: lot, Seen: []string{"leak"}}).Problem
	}
	first := say("DLZ", "", "D-1")
	u.clock.pass(90 * day) // the last day within
	second := say("DLZ", "", "D-1")
	u.clock.pass(day)
	third := say("", gtinDialyzer, "D-1")
	say("DLZ", "", "D-9")
	say("BLS", "", "B-1")
	say("", "", "")
	l := u.problems(trace.ProblemQuery{})
	if len(l.Problems) != 6 || l.WithoutProduct != 1 || len(l.OfLots) != 1 || len(l.OfProducts) != 1 {
		t.Fatalf("%+v", l)
	}
	if g := l.OfLots[0]; g.Lot != "D-1" || g.Count != 2 || !slices.Equal(g.Problems, []trace.ProblemID{third, second}) {
		t.Errorf("of the lot: %+v; the first, %s, is 91 days before the last", g, first)
	}
	if g := l.OfProducts[0]; g.Product != "DLZ" || g.Name != "Dialyzer 1.8" || g.Count != 3 || g.Lots != 2 {
		t.Errorf("of the product: %+v", g)
	}
	if l := u.problems(trace.ProblemQuery{Product: gtinDialyzer, Lot: "D-1", From: u.clock.at.Add(-2 * day)}); len(l.Problems) != 2 {
		t.Errorf("narrowed: %+v", l.Problems)
	}
	u.ok(u.SetProblems(ctx, u.by("admin"), trace.ProblemSettings{WithinDays: 100, AtLeast: 3}))
	if l := u.problems(trace.ProblemQuery{}); len(l.OfLots) != 1 || l.OfLots[0].Count != 3 {
		t.Errorf("within 100 days, from 3 on: %+v", l.OfLots)
	}
	u.view(func(r inventory.Reader) error {
		b, err := u.ProblemsBeside(r, u.problem(second))
		if err != nil || b.OfLot.Count != 3 || b.OfProduct.Count != 4 || b.OfProduct.Lots != 2 {
			t.Errorf("beside the second: %+v %+v %v", b.OfLot, b.OfProduct, err)
		}
		known, err := u.KnownProblems(r, u.clock.at)
		if err != nil {
			return err
		}
		for l, want := range map[inventory.Lot]bool{
			{Product: "DLZ", Number: "D-1"}: true, {Product: inventory.ProvisionalID(gtinDialyzer), Number: "D-1"}: true,
			{Product: "DLZ", Number: "D-9"}: false, {Product: "DLZ"}: false, {Product: "BLS", Number: "D-1"}: false,
		} {
			g, err := known.Of(l)
			if err != nil || (g != nil) != want {
				t.Errorf("at a scan of %+v: %+v %v", l, g, err)
			}
		}
		return nil
	})
	// Catalogued later.
	u.scan(u.open("P1", "S1"), gtinUncatalogd, "U-1")
	say("", gtinUncatalogd, "U-1")
	u.ok(u.SetProducts(ctx, u.by("stock"), inventory.Product{ID: "NEW", Name: "New", Category: inventory.Saline, Packs: []inventory.Pack{{Level: "each", GTIN: gtinUncatalogd, Holds: 1}}}))
	say("NEW", "", "U-1")
	u.ok(u.SetProblems(ctx, u.by("admin"), trace.DefaultProblemSettings()))
	if l := u.problems(trace.ProblemQuery{Product: "NEW"}); len(l.OfLots) != 1 || l.OfLots[0].Count != 2 || l.OfLots[0].Product != "NEW" {
		t.Errorf("known under two ids: %+v", l)
	}
}

// Together holds for any times: the largest number within the days, by a count of
// all pairs.
func TestTogetherAgainstAllPairs(t *testing.T) {
	u := newUnit(t)
	var at []time.Time
	for i := range 40 {
		u.clock.pass(time.Duration(1+i*i%17*7) * 24 * time.Hour)
		u.report(trace.ProblemFacts{Product: "DLZ", Lot: "D-1", Seen: []string{"leak"}})
		at = append(at, u.clock.at)
	}
	want := 0
	for _, from := range at {
		n := 0
		for _, x := range at {
			if !x.Before(from) && x.Sub(from) <= 90*24*time.Hour {
				n++
			}
		}
		want = max(want, n)
	}
	if l := u.problems(trace.ProblemQuery{}); want < 4 || len(l.OfLots) != 1 || l.OfLots[0].Count != want {
		t.Errorf("%+v, want %d", l.OfLots, want)
	}
}

func TestProblemsThatAreNone(t *testing.T) {
	u := newUnit(t)
	id, other := u.open("P1", "S1"), u.open("P2", "S2")
	use := u.scan(other, gtinDialyzer, "D-1").Entries[0].Seq
	good := u.report(trace.ProblemFacts{Treatment: id, Category: inventory.Dialyzer}).Problem
	for what, f := range map[string]trace.ProblemFacts{
		"no such treatment":          {Treatment: "T0"},
		"a use of another treatment": {Treatment: id, Use: use},
		"a use of none":              {Use: use},
		"an entry that is none":      {Treatment: id, Use: 9999},
		"no such product":            {Product: "NONE"},
		"a GTIN that is none":        {GTIN: "09506000100013"},
		"no such kind":               {Seen: []string{"magic"}},
		"no such outcome":            {Outcomes: []trace.Outcome{"fine"}},
		"no such keeping":            {Kept: "eaten"},
		"no such category":           {Category: "kitchen"},
		"no such field":              {Details: map[string]string{"name": "x"}},
		"a field of the record":      {Details: map[string]string{"lot": "x"}},
		"an empty field":             {Details: map[string]string{"brand": " "}},
		"too many words":             {Words: strings.Repeat("x", 4001)},
		"words with a control":       {Words: "a\x00b"},
		"a lot that can't be":        {Lot: "a\x00b"},
		"an expiry that is none":     {Words: "x", Expires: "2026-02-30"},
		"a use of another lot":       {Treatment: other, Use: use, Lot: "D-2"},
		"another product than used":  {Treatment: other, Use: use, Product: "BLS"},
		"no treatment, a use":        {Use: use, Words: "x"},
	} {
		var refusal *inventory.Refusal
		if _, err := u.ReportProblem(ctx, u.by("nurse"), f); !errors.As(err, &refusal) || refusal.Hint == "" {
			t.Errorf("%s: %v", what, err)
		}
		if _, err := u.FollowProblem(ctx, u.by("nurse"), trace.FollowUp{Problem: good, ProblemFacts: f}); !errors.As(err, &refusal) {
			t.Errorf("%s, as a follow-up: %v", what, err)
		}
	}
	for what, s := range map[string]trace.ProblemSettings{
		"no days":             {AtLeast: 2},
		"from one on":         {WithinDays: 9, AtLeast: 1},
		"a kind there is":     {WithinDays: 9, AtLeast: 2, Seen: []trace.SeenKind{{Code: "leak", Text: "Drips"}}},
		"a kind without text": {WithinDays: 9, AtLeast: 2, Seen: []trace.SeenKind{{Code: "drip"}}},
		"no facility's field": {WithinDays: 9, AtLeast: 2, Facility: map[string]string{"patient_age": "9"}},
	} {
		if _, err := u.SetProblems(ctx, u.by("admin"), s); !errors.Is(err, inventory.ErrInvalid) {
			t.Errorf("%s: %v", what, err)
		}
	}
	for _, q := range []trace.ProblemQuery{{Product: "NONE"}} {
		if _, err := u.ProblemTable(ctx, q); !errors.Is(err, inventory.ErrNotFound) {
			t.Errorf("%+v: %v", q, err)
		}
	}
	// What the unit added to the list can be chosen, and the facility's fields
	// stand in each draft.
	u.ok(u.SetProblems(ctx, u.by("admin"), trace.ProblemSettings{WithinDays: 9, AtLeast: 2, Seen: []trace.SeenKind{{Code: "squeak", Text: "Squeaks"}}, Facility: map[string]string{"facility_number": "0000000000"}}))
	p := u.report(trace.ProblemFacts{Treatment: id, Seen: []string{"squeak"}}).Problem
	if d := u.draft(p); d["event"].Value != "Squeaks" || d["facility_number"].Value != "0000000000" {
		t.Errorf("%+v %+v", d["event"], d["facility_number"])
	}
}

// A problem's pictures are bounded, can be struck out, and are not shown then.
func TestProblemPictures(t *testing.T) {
	u := newUnit(t)
	id := u.report(trace.ProblemFacts{Words: "torn"}).Problem
	pic := trace.Picturing{Problem: id, About: "the seal", JPEG: []byte("\xff\xd8 not looked at here"), Width: 4, Height: 3}
	call := inventory.Call{Actor: "nurse", Key: "k"}
	first := u.ok(u.PictureProblem(ctx, call, pic)).Entries[0].Seq
	if rec := u.ok(u.PictureProblem(ctx, call, pic)); !rec.Replayed {
		t.Error("sent again: written twice")
	}
	u.view(func(r inventory.Reader) error {
		b, err := u.PictureOf(r, id, first)
		if err != nil || string(b) != string(pic.JPEG) {
			t.Errorf("%q %v", b, err)
		}
		if _, err := u.PictureOf(r, id, first-1); !errors.Is(err, inventory.ErrNotFound) {
			t.Errorf("an entry that is no picture: %v", err)
		}
		return nil
	})
	u.ok(u.Correct(ctx, u.by("nurse"), first, "a face is on it"))
	u.view(func(r inventory.Reader) error {
		if _, err := u.PictureOf(r, id, first); !errors.Is(err, inventory.ErrNotFound) {
			t.Errorf("struck out: %v", err)
		}
		return nil
	})
	for range trace.MostPictures - 1 {
		u.ok(u.PictureProblem(ctx, u.by("nurse"), pic))
	}
	if _, err := u.PictureProblem(ctx, u.by("nurse"), pic); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("one too many: %v", err)
	}
	pic.JPEG = make([]byte, trace.MostPictureBytes+1)
	if _, err := u.PictureProblem(ctx, u.by("nurse"), trace.Picturing{Problem: u.report(trace.ProblemFacts{Words: "x"}).Problem, JPEG: pic.JPEG}); !errors.Is(err, inventory.ErrInvalid) {
		t.Errorf("too large: %v", err)
	}
}

// The fields are those of 21 CFR 803.32: what each paragraph names, in the words
// of the regulation, has a field of that paragraph. (a) to (c)(10) are quoted from
// the text in force in June 2026, (c)(11) to (e) from memory.
func TestDraftHasTheFieldsOfTheRule(t *testing.T) {
	u := newUnit(t)
	id := u.report(trace.ProblemFacts{Words: "x"}).Problem
	draft, err := u.DraftProblem(context.Background(), id, nil)
	if err != nil {
		t.Fatal(err)
	}
	byRule := map[string][]string{}
	for _, f := range draft.Fields {
		byRule[strings.TrimPrefix(f.Rule, "21 CFR 803.32")] = append(byRule[strings.TrimPrefix(f.Rule, "21 CFR 803.32")], strings.ToLower(f.Label))
	}
	rule := map[string][]string{
		"(a)(1)": {"name or other identifier"}, "(a)(2)": {"age at the time of", "date of birth"}, "(a)(3)": {"sex"}, "(a)(4)": {"weight"},
		"(b)(1)": {"adverse event or product problem"}, "(b)(2)": {"outcomes attributed to the"}, "(b)(3)": {"date of event"}, "(b)(4)": {"date of this report"},
		"(b)(5)": {"description of the event or problem"}, "(b)(6)": {"relevant tests", "dates and laboratory data"}, "(b)(7)": {"other relevant history, including preexisting"},
		"(c)(1)": {"brand name"}, "(c)(2)": {"product code", "common device name"}, "(c)(3)": {"manufacturer name, city and state"},
		"(c)(4)": {"model number", "catalog number", "serial number", "lot number", "other identifying number", "expiration date", "unique device identifier (udi)"},
		"(c)(5)": {"operator of the device"}, "(c)(6)": {"date of implantation"}, "(c)(7)": {"date of explantation"}, "(c)(8)": {"single-use device that was reprocessed and reused"},
		"(c)(9)": {"name and address of the reprocessor"}, "(c)(10)": {"available for evaluation", "returned to the manufacturer", "date of return"}, "(c)(11)": {"other products in use"},
		"(d)(1)": {"name", "address and telephone"}, "(d)(2)": {"health professional"}, "(d)(3)": {"occupation"}, "(d)(4)": {"copy to fda"},
		"(e)(1)": {"user facility report"}, "(e)(2)": {"user facility number"}, "(e)(3)": {"address"}, "(e)(4)": {"contact person"}, "(e)(5)": {"telephone"}, "(e)(6)": {"became aware"},
		"(e)(7)": {"initial report or follow-up"}, "(e)(8)": {"date of the facility's report"}, "(e)(9)": {"age of the device"}, "(e)(10)": {"problem code: patient", "problem code: device"},
		"(e)(11)": {"sent to fda"}, "(e)(12)": {"location where the event occurred"}, "(e)(13)": {"sent to the manufacturer"}, "(e)(14)": {"manufacturer name and address"},
	}
	for paragraph, words := range rule {
		all := strings.Join(byRule[paragraph], "; ")
		for _, w := range words {
			if !strings.Contains(all, w) {
				t.Errorf("803.32%s asks for %q, the draft has %q", paragraph, w, all)
			}
		}
		delete(byRule, paragraph)
	}
	if len(byRule) != 0 {
		t.Errorf("fields of no paragraph: %v", byRule)
	}
	// 803.30(a): death to FDA and the manufacturer, serious injury to the
	// manufacturer, 10 work days; local rule and caution first.
	if s := strings.Join(draft.Deadlines, " "); strings.Count(s, "10 work days") != 2 || !strings.Contains(s, "803.30(a)(1)") || !strings.Contains(s, "803.30(a)(2)") {
		t.Errorf("deadlines %q", s)
	}
	if s := strings.Join(draft.Before, " "); !strings.Contains(s, "a person decides") || !strings.Contains(s, "your own country") {
		t.Errorf("before: %q", s)
	}
	// 10 work days after Wednesday 2 December 2026 is Wednesday 16 December, by
	// the calendar.
	u.follow(id, trace.ProblemFacts{Details: map[string]string{"aware": "2026-12-02"}})
	if draft, err = u.DraftProblem(ctx, id, nil); err != nil || !strings.Contains(strings.Join(draft.Notes, " "), "is 2026-12-16") {
		t.Errorf("%v %v", draft.Notes, err)
	}
}
