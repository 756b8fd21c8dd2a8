package trace

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
)

// Compare looks for what cases share that others don't. It reads the treatments
// of the time looked at, a day in a snapshot of its own, or the others named:
// what it costs follows from those, not from the journal.
func (b *Book) Compare(ctx context.Context, q Comparing) (*Comparison, error) {
	q, err := q.checked()
	if err != nil {
		return nil, err
	}
	c := &comparer{b: b, q: q, out: &Comparison{At: b.Now(), Alpha: q.Alpha, Named: len(q.Others) > 0, Cases: []FoundCase{}, Factors: []SharedFactor{}, Limits: []string{}}}
	if err := b.View(ctx, c.begin); err != nil {
		return nil, err
	}
	if err := c.read(ctx); err != nil {
		return nil, err
	}
	return c.out, c.conclude()
}

func (q Comparing) checked() (Comparing, error) {
	switch {
	case len(q.Cases) == 0:
		return q, inventory.Invalid("cases", "Name the treatments with a reaction, or their patients and when it was.", "there are no cases")
	case len(q.Cases) > MostCases || len(q.Others) > MostCases:
		return q, inventory.Invalid("cases", fmt.Sprintf("Name at most %d.", MostCases), "%d cases and %d others", len(q.Cases), len(q.Others))
	case q.Alpha < 0 || q.Alpha >= 1:
		return q, inventory.Invalid("alpha", "Give a share such as 0.05.", "%v is no share", q.Alpha)
	case q.Days != nil && (*q.Days < 0 || *q.Days > MostCompared):
		return q, inventory.Invalid("days", fmt.Sprintf("Give 0 to %d days.", MostCompared), "%d days before and after the cases", *q.Days)
	case q.Within < 0 || q.Within > 24*MostCompared:
		return q, inventory.Invalid("within_hours", "Give the hours from the start of a treatment to the reaction, 24 for a day.", "%d hours", q.Within)
	case (q.From == "") != (q.To == ""):
		return q, inventory.Invalid("from", "Give both, or neither.", "the time has a first or a last day only")
	}
	for _, d := range []struct {
		name string
		day  inventory.Date
	}{{"from", q.From}, {"to", q.To}} {
		if _, err := time.Parse(time.DateOnly, string(d.day)); d.day != "" && err != nil {
			return q, inventory.Invalid(d.name, "Give the date as 2027-03-31.", "%q is not a date", d.day)
		}
	}
	if q.Alpha == 0 {
		q.Alpha = 0.05
	}
	if q.Days == nil {
		q.Days = new(int)
		*q.Days = comparedDays
	}
	if q.Within == 0 {
		q.Within = comparedHours
	}
	return q, nil
}

// A comparer gathers what a Comparison is made of.
type comparer struct {
	b    *Book
	q    Comparing
	out  *Comparison
	unit *inventory.Unit
	zone *time.Location
	// asked are the categories of which the unit's rules ask for a record,
	// and since when.
	asked map[inventory.Category]time.Time
	// from and to are the window as instants.
	from, to time.Time
	// cases are the treatments with a reaction, each with when it was, zero
	// if nobody knows; others those named.
	cases  map[TreatmentID]time.Time
	others map[TreatmentID]bool
	gathered
}

// begin finds the cases and the others named, and the time to look at.
func (c *comparer) begin(r inventory.Reader) (err error) {
	c.out.AsOf = r.Head()
	c.unit, err = c.b.Unit(r)
	if err != nil {
		return err
	}
	if c.zone, err = c.unit.Zone(); err != nil {
		return err
	}
	c.asked = map[inventory.Category]time.Time{}
	for _, n := range c.unit.Rules.Needs {
		if n.Scan {
			if c.asked[n.Category], err = inventory.KeptSince(r, n.Category); err != nil {
				return err
			}
		}
	}
	c.cases, c.others = map[TreatmentID]time.Time{}, map[TreatmentID]bool{}
	found, err := c.find(r, c.q.Cases, "cases")
	if err != nil {
		return err
	}
	others, err := c.find(r, c.q.Others, "others")
	if err != nil {
		return &OthersError{err}
	}
	if err := c.window(found); err != nil {
		return err
	}
	for i := range found {
		x := &found[i]
		if x.Treatment != "" && (x.Start.Before(c.from) || !x.Start.Before(c.to)) {
			return inventory.Invalid("from", "Look at a time that holds all cases.", "treatment %s of %s lies outside %s to %s", x.Treatment, x.Start.In(c.zone).Format(time.DateOnly), c.out.From, c.out.To)
		}
	}
	if err := c.take(r, found, true); err != nil {
		return err
	}
	return c.take(r, others, false)
}

// An OthersError says that it is the list of others that was refused.
type OthersError struct{ Err error }

// Error implements the error interface.
func (o *OthersError) Error() string { return "the others: " + o.Err.Error() }

// Unwrap makes errors.As find what was refused of which line.
func (o *OthersError) Unwrap() error { return o.Err }

// find looks up what was named: each one's treatment, none where a patient
// alone was named.
func (c *comparer) find(r inventory.Reader, list []Case, field string) ([]FoundCase, error) {
	out := make([]FoundCase, len(list))
	return out, inventory.EachLine(len(list), func(i int) (err error) {
		defer func() {
			if r := (*inventory.Refusal)(nil); field == "others" && errors.As(err, &r) {
				named := *r
				named.Message = "among the others, " + r.Message
				err = &named
			}
		}()
		x := list[i]
		if x.Problem != "" {
			if x, err = caseOfProblem(r, x, field); err != nil {
				return err
			}
		}
		out[i] = FoundCase{Case: x, Patient: x.Patient, How: "all treatments of the patient in this time"}
		var t *Treatment
		switch {
		case x.Treatment != "":
			if t, err = TreatmentByID(r, x.Treatment); err != nil {
				return err
			}
			if x.Patient != "" && x.Patient != t.Patient {
				return inventory.Invalid(field, "Leave the patient out, or give the treatment's own.", "treatment %s is not patient %s's", t.ID, x.Patient)
			}
			if !x.At.IsZero() && x.At.Before(t.Start) {
				return inventory.Invalid(field, "Name the treatment before the reaction, or correct the time.", "treatment %s began after the reaction at %s", t.ID, x.At.UTC().Format(time.RFC3339))
			}
			out[i].How = "the treatment named"
			if x.Problem != "" {
				out[i].How = "the treatment of the problem"
			}
		case x.Patient == "":
			return inventory.Invalid(field, "Give a treatment, a problem or a patient.", "it names neither a treatment nor a patient")
		default:
			if _, err := PatientByID(r, x.Patient); err != nil {
				return err
			}
			if x.At.IsZero() {
				if c.q.From == "" {
					return inventory.Invalid(field, "Give the time of the reaction, or the first and the last day to look at.", "of patient %s neither a treatment nor a time is known", x.Patient)
				}
				return nil
			}
			if t, err = c.lastBefore(r, x.Patient, x.At); err != nil {
				return err
			}
			if t == nil {
				return inventory.Invalid(field, "Name the treatment, or let it have begun earlier (within_hours).", "patient %s has no treatment that began in the %d hours before %s", x.Patient, c.q.Within, x.At.UTC().Format(time.RFC3339))
			}
			out[i].How = "the last treatment that had begun by then"
		}
		if t.Struck != 0 || t.NotDone {
			return inventory.Invalid(field, "Name one that took place.", "treatment %s was struck out or did not take place", t.ID)
		}
		out[i].Treatment, out[i].Patient, out[i].Start = t.ID, t.Patient, t.Start
		return nil
	})
}

// caseOfProblem returns a case named by a problem with its treatment, and when it
// was seen unless that was before the treatment began.
func caseOfProblem(r inventory.Reader, x Case, field string) (Case, error) {
	p, err := ProblemByID(r, x.Problem)
	switch {
	case err != nil:
		return x, err
	case p.Struck != 0:
		return x, inventory.Invalid(field, "Leave it out.", "problem %s was struck out", p.ID)
	case p.Treatment == "":
		return x, inventory.Invalid(field, "Name the treatment.", "problem %s names no treatment", p.ID)
	case x.Treatment != "" && x.Treatment != p.Treatment:
		return x, inventory.Invalid(field, "Leave the treatment out, or give the problem's own.", "problem %s is not of treatment %s", p.ID, x.Treatment)
	}
	t, err := TreatmentByID(r, p.Treatment)
	if err != nil {
		return x, err
	}
	if x.Treatment = t.ID; x.At.IsZero() && !p.At.Before(t.Start) {
		x.At = p.At
	}
	return x, nil
}

// lastBefore returns the patient's last treatment that had begun by a time.
func (c *comparer) lastBefore(r inventory.Reader, p PatientID, at time.Time) (last *Treatment, err error) {
	from := rowcode.AppendTime(nil, at.Add(-time.Duration(c.q.Within)*time.Hour))
	prefix := rowcode.AppendText(nil, string(p))
	err = scanTreatments(r, ixPatientStart, prefix, append(prefix[:len(prefix):len(prefix)], from...), at.Add(1), func(t *Treatment) error {
		if t.Struck == 0 && !t.NotDone {
			last = t
		}
		return nil
	})
	return last, err
}

// window sets the time to look at.
func (c *comparer) window(found []FoundCase) error {
	c.out.From, c.out.To = c.q.From, c.q.To
	if c.out.From == "" {
		first := slices.MinFunc(found, func(a, b FoundCase) int { return a.Start.Compare(b.Start) })
		last := slices.MaxFunc(found, func(a, b FoundCase) int { return a.Start.Compare(b.Start) })
		c.out.From = inventory.DateOf(first.Start, c.zone).AddDays(-*c.q.Days)
		c.out.To = inventory.DateOf(last.Start, c.zone).AddDays(*c.q.Days)
	}
	if n := c.out.From.DaysUntil(c.out.To); n < 0 || n >= MostCompared {
		return inventory.Invalid("from", fmt.Sprintf("Look at no more than %d days at a time, and give the first day first.", MostCompared), "from %s to %s", c.out.From, c.out.To)
	}
	var err error
	if c.from, err = c.out.From.Time(c.zone); err == nil {
		c.to, err = c.out.To.AddDays(1).Time(c.zone)
	}
	return err
}

// take notes the treatments that were found, and all of a patient's in the time
// looked at where only the patient was named.
func (c *comparer) take(r inventory.Reader, found []FoundCase, isCase bool) error {
	for i := range found {
		x := &found[i]
		note := func(t TreatmentID, start time.Time) error {
			if !isCase {
				if _, both := c.cases[t]; both {
					return inventory.Invalid("others", "Leave it out of one of the two.", "treatment %s is both a case and one of the others", t)
				}
				c.others[t] = true
				return nil
			}
			at, before := c.cases[t]
			if !before {
				y := *x
				y.Treatment, y.Start = t, start
				c.out.Cases = append(c.out.Cases, y)
			}
			if !before || (!x.At.IsZero() && (at.IsZero() || x.At.Before(at))) {
				c.cases[t] = x.At
			}
			return nil
		}
		if x.Treatment != "" {
			if err := note(x.Treatment, x.Start); err != nil {
				return err
			}
			continue
		}
		n := 0
		prefix := rowcode.AppendText(nil, string(x.Patient))
		err := scanTreatments(r, ixPatientStart, prefix, rowcode.AppendTime(prefix[:len(prefix):len(prefix)], c.from), c.to, func(t *Treatment) error {
			if t.Struck != 0 || t.NotDone {
				return nil
			}
			n++
			return note(t.ID, t.Start)
		})
		if err != nil {
			return err
		}
		if n == 0 {
			return inventory.Invalid("cases", "Look at another time, or leave the patient out.", "patient %s had no treatment from %s to %s", x.Patient, c.out.From, c.out.To)
		}
	}
	if isCase {
		slices.SortStableFunc(c.out.Cases, func(a, b FoundCase) int {
			return cmp.Or(a.Start.Compare(b.Start), cmp.Compare(a.Treatment, b.Treatment))
		})
		return c.nameCases(r)
	}
	return nil
}

func (c *comparer) nameCases(r inventory.Reader) error {
	for i := range c.out.Cases {
		p, err := PatientByID(r, c.out.Cases[i].Patient)
		if err != nil {
			return err
		}
		c.out.Cases[i].Name = p.Name
	}
	return nil
}

// read reads the treatments to compare, a day or a few hundred named ones in a
// snapshot.
func (c *comparer) read(ctx context.Context) error {
	c.gathered = newGathered()
	if !c.out.Named {
		for day := c.from; day.Before(c.to); {
			end := day.AddDate(0, 0, 1)
			if end.After(c.to) {
				end = c.to
			}
			err := c.b.View(ctx, func(r inventory.Reader) error {
				s := c.reader(r)
				return ScanStarts(r, day, end, s.gather)
			})
			if err != nil {
				return err
			}
			day = end
		}
		return nil
	}
	ids := make([]TreatmentID, 0, len(c.cases)+len(c.others))
	for t := range c.cases {
		ids = append(ids, t)
	}
	for t := range c.others {
		ids = append(ids, t)
	}
	slices.Sort(ids)
	const page = 500
	for part := range slices.Chunk(ids, page) {
		err := c.b.View(ctx, func(r inventory.Reader) error {
			s := c.reader(r)
			for _, id := range part {
				t, err := TreatmentByID(r, id)
				if err == nil {
					err = s.gather(t)
				}
				if err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	return nil
}
