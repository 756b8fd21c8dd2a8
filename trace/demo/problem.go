package demo

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// problems are reported at the end: a lot of dialyzers that leaked three times, a
// set that came apart, a torn pack in the store. Whose record knows no lot of the
// dialyzer is passed over, so the lot is that of the record.
func (w *world) problems() error {
	lot, leaks, apart := "", 0, false
	for i := len(w.truth.Treatments) - 1; i >= 0 && (leaks < 3 || !apart); i-- {
		t, err := w.recorded(w.truth.Treatments[i].ID)
		if err != nil {
			return err
		}
		if !t.Closed || t.NotDone {
			continue
		}
		seen := t.Start.Add(95 * time.Minute)
		if seen.After(t.End) {
			seen = t.End
		}
		if !apart {
			if _, err := w.book.ReportProblem(w.ctx, w.asOf(t.By, seen), trace.ProblemFacts{
				Treatment: t.ID, Category: inventory.BloodlineSet, Seen: []string{"loose"}, Kept: trace.KeptGone, Outcomes: []trace.Outcome{trace.OutcomeNone},
			}); err != nil {
				return err
			}
			apart = true
			continue
		}
		of := dialyzerOf(t, seen)
		if of == "" || lot != "" && of != lot {
			continue
		}
		lot = of
		if err := w.leaked(t, seen, leaks == 0); err != nil {
			return err
		}
		leaks++
		i -= 3 * w.o.Stations // some other day
	}
	if l := w.good(saline).lots; len(l) > 0 {
		_, err := w.book.ReportProblem(w.ctx, w.by(clerk), trace.ProblemFacts{Product: saline, Lot: l[len(l)-1].number, Seen: []string{"packaging"}, Words: "outer bag torn, found while putting the delivery away"})
		return err
	}
	return nil
}

// recorded returns what is on record of a treatment.
func (w *world) recorded(id trace.TreatmentID) (t *trace.Treatment, err error) {
	err = w.book.View(w.ctx, func(r inventory.Reader) error {
		t, err = trace.TreatmentByID(r, id)
		return err
	})
	return t, err
}

// dialyzerOf returns the lot of the usual dialyzer that was in use at a time by
// the record, empty if there is none.
func dialyzerOf(t *trace.Treatment, at time.Time) (lot string) {
	for _, u := range t.Uses {
		if u.Struck == 0 && u.Product == dialyzer18 && !u.From.After(at) && (u.Until.IsZero() || u.Until.After(at)) {
			lot = u.Lot
		}
	}
	return lot
}

// leaked reports a blood leak; of the worst one everything is written down.
func (w *world) leaked(t *trace.Treatment, seen time.Time, worst bool) error {
	rec, err := w.book.ReportProblem(w.ctx, w.asOf(t.By, seen), trace.ProblemFacts{Treatment: t.ID, Category: inventory.Dialyzer, Seen: []string{"blood_leak"}})
	if err != nil || !worst {
		return err
	}
	ev, err := w.book.Registry().Decode(rec.Entries[0])
	if err != nil {
		return err
	}
	problem := ev.(*trace.ProblemReported).Problem
	if _, err := w.book.FollowProblem(w.ctx, w.by(t.By), trace.FollowUp{Problem: problem, ProblemFacts: trace.ProblemFacts{
		Words: "Blood leak alarm after 95 min, blood seen at the dialysate port.", Done: "Circuit changed, some 150 mL of blood not returned.",
		Kept: trace.KeptHere, KeptWhere: "utility room, bag 3", Outcomes: []trace.Outcome{trace.OutcomeMild},
		Details: map[string]string{"patient_age": "63 years", "operator": "Health professional", "aware": string(inventory.DateOf(seen, w.zone))},
	}}); err != nil {
		return err
	}
	pic, err := stain()
	if err != nil {
		return err
	}
	_, err = w.book.PictureProblem(w.ctx, w.by(t.By), trace.Picturing{Problem: problem, About: "the dialysate port", JPEG: pic, Width: 640, Height: 480})
	return err
}

// stain draws an invented picture: a tube with a red stain.
func stain() ([]byte, error) {
	m := image.NewRGBA(image.Rect(0, 0, 640, 480))
	for y := range 480 {
		for x := range 640 {
			c := color.RGBA{208, 214, 216, 255}
			if x > 120 && x < 520 && y > 150 && y < 330 {
				c = color.RGBA{236, 238, 240, 255}
			}
			if dx, dy := x-470, y-300; dx*dx+dy*dy*2 < 4200 {
				c = color.RGBA{150, 28, 34, 255}
			}
			m.SetRGBA(x, y, c)
		}
	}
	var b bytes.Buffer
	err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 80})
	return b.Bytes(), err
}
