package trace

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
)

// A LeftOutCode says why a treatment is left out of an answer.
type LeftOutCode string

// Why treatments are left out.
const (
	// LeftOutNotYet: the treatment was over before the day on which the lot is
	// first named.
	LeftOutNotYet LeftOutCode = "not_here_yet"
	// LeftOutAccounted: as many pieces as came in had been used, wasted or had
	// gone before it began.
	LeftOutAccounted LeftOutCode = "all_accounted_for"
	// LeftOutCounted: counts found none of the lot before it began.
	LeftOutCounted LeftOutCode = "counted_gone"
	// LeftOutEnded: the rest of a batch had been used up or thrown away.
	LeftOutEnded LeftOutCode = "batch_ended"
	// LeftOutOtherProduct: its record names another product, without a lot.
	LeftOutOtherProduct LeftOutCode = "other_product"
	// LeftOutFed: its station was fed from a tank.
	LeftOutFed LeftOutCode = "fed_from_tank"
	// LeftOutNotFed: the lot fed stations from a tank, and not this one then.
	LeftOutNotFed LeftOutCode = "not_fed_from_it"
	// LeftOutRecorded: its record names what it used of this kind.
	LeftOutRecorded LeftOutCode = "other_lot_recorded"
	// LeftOutWithout: its record says that it did without.
	LeftOutWithout LeftOutCode = "done_without"
	// LeftOutNotUsed: by the unit's rules it uses nothing of this kind.
	LeftOutNotUsed LeftOutCode = "kind_not_used"
	// LeftOutNotDone: it did not take place.
	LeftOutNotDone LeftOutCode = "not_done"
)

// Meaning says in words why.
func (c LeftOutCode) Meaning() string {
	switch c {
	case LeftOutNotYet:
		return "the lot was not in the unit yet: nothing on record names it before"
	case LeftOutAccounted:
		return "the lot was not in the unit any more: as many pieces as came in are recorded as used, wasted or gone"
	case LeftOutCounted:
		return "the lot was not in the unit any more: the complete counts after its last trace found none"
	case LeftOutEnded:
		return "the rest of the batch had been used up or thrown away"
	case LeftOutOtherProduct:
		return "the record names another product, without a lot"
	case LeftOutFed:
		return "the station was fed from a tank all of the time, and nothing says that a container was used"
	case LeftOutNotFed:
		return "the station was not fed from a tank that held it"
	case LeftOutRecorded:
		return "the record names what was used of this kind"
	case LeftOutWithout:
		return "the record says that it did without this kind"
	case LeftOutNotUsed:
		return "by its prescription it uses nothing of this kind"
	case LeftOutNotDone:
		return "it did not take place"
	}
	return ""
}

// An outcome is whether a treatment that lacks a record is listed: without a
// code it is.
type outcome struct {
	code LeftOutCode
	// gap is what it lacks.
	gap Gap
}

// leaveOut notes that a treatment that lacks a record is left out, unless it is
// listed through something else.
func (a *LotAnswer) leaveOut(g *Gap, code LeftOutCode) {
	if _, ok := a.outcomes[g.Treatment]; !ok {
		a.outcomes[g.Treatment] = outcome{code, *g}
	}
}

// leaveIn notes that a treatment that lacks a record is listed.
func (a *LotAnswer) leaveIn(g *Gap) {
	if was, ok := a.outcomes[g.Treatment]; !ok || was.code != "" {
		a.outcomes[g.Treatment] = outcome{gap: *g}
	}
}

// lists reports whether the answer lists a treatment without its being on record
// with the lot, or through a feed.
func (a *LotAnswer) lists(id TreatmentID) bool {
	_, ok := a.listed[id]
	return ok || a.sure[id]
}

// A LeftOut is a treatment that an answer leaves out, and why: something on
// record says it.
type LeftOut struct {
	Treatment TreatmentID `json:"treatment"`
	Patient   PatientID   `json:"patient"`
	Name      string      `json:"patient_name,omitempty"`
	Start     time.Time   `json:"start"`
	Machine   MachineID   `json:"machine"`
	Station   StationID   `json:"station"`
	Code      LeftOutCode `json:"code"`
	Why       string      `json:"why"`
}

// A LeftOutQuestion asks which treatments an answer leaves out. From and To are
// the first and the last day on which they started, in the unit's time zone; left
// empty, the time when the lot may have been in the unit. After and Start go on
// behind the last one of a page.
type LeftOutQuestion struct {
	From, To inventory.Date
	Start    time.Time
	After    TreatmentID
	// Limit is how many to list at most, 1 to MostLeftOut; 0 for that many.
	Limit int
}

// MostLeftOut is how many treatments that are left out a page has at most.
const MostLeftOut = 1000

// LeftOut lists the treatments of a time that an answer leaves out, by start, and
// tells whether there are more. It costs what it looks at: treatments that the
// answer lists, or that were struck out, are passed over.
func (b *Book) LeftOut(ctx context.Context, a *LotAnswer, q LeftOutQuestion) (list []LeftOut, more bool, err error) {
	if q.Limit < 1 || q.Limit > MostLeftOut {
		q.Limit = MostLeftOut
	}
	err = b.View(ctx, func(r inventory.Reader) error {
		j, err := b.judging(r, a)
		if err != nil {
			return err
		}
		begin, end, err := j.days(q.From, q.To)
		if err != nil {
			return err
		}
		from := rowcode.AppendTime(nil, begin)
		if q.After != "" {
			from = append((&Treatment{ID: q.After, Start: q.Start}).startKey(), 0) // the next key
		}
		return scanTreatments(r, ixStart, nil, from, end, func(t *Treatment) error {
			if t.Struck != 0 || t.Opened > a.AsOf.Seq || a.lists(t.ID) || j.onRecord(t) {
				return nil
			}
			if len(list) == q.Limit {
				more = true
				return inventory.ErrStop
			}
			x, err := j.line(t)
			list = append(list, x)
			return err
		})
	})
	return list, more, err
}

// A judging says of single treatments why an answer leaves them out, in one
// snapshot.
type judging struct {
	b *Book
	r inventory.Reader
	a *LotAnswer
	u *inventory.Unit
	s *supplies
}

func (b *Book) judging(r inventory.Reader, a *LotAnswer) (*judging, error) {
	u, err := b.Unit(r)
	return &judging{b, r, a, u, newSupplies(b, r)}, err
}

// days returns the instants from the first of which on, and before the second,
// treatments started; the second is zero for no end.
func (j *judging) days(from, to inventory.Date) (begin, end time.Time, err error) {
	begin = j.a.First
	if !j.a.Last.IsZero() {
		end = j.a.Last.Add(1)
	}
	zone, err := j.u.Zone()
	if err != nil {
		return begin, end, err
	}
	day := func(field string, d inventory.Date) (time.Time, error) {
		t, err := time.ParseInLocation(time.DateOnly, string(d), zone)
		if err != nil {
			return t, inventory.Invalid(field, "Give the date as 2027-03-31.", "%q is not a date", d)
		}
		return t.UTC(), nil
	}
	if from != "" {
		if begin, err = day("from", from); err != nil {
			return begin, end, err
		}
	}
	if to != "" {
		if end, err = day("to", to.AddDays(1)); err != nil {
			return begin, end, err
		}
	}
	if begin.IsZero() {
		return begin, end, inventory.Invalid("from", "Say from which day on.", "the lot was never in the unit by its record, so there is no time to look at")
	}
	return begin, end, nil
}

// onRecord reports whether a treatment is on record with the lot.
func (j *judging) onRecord(t *Treatment) bool {
	return slices.ContainsFunc(t.Uses, func(u Use) bool {
		return u.Struck == 0 && slices.ContainsFunc(j.a.carriers, func(c *carrier) bool {
			return slices.Contains(c.lots, inventory.Lot{Product: u.Product, Number: u.Lot})
		})
	})
}

func (j *judging) line(t *Treatment) (LeftOut, error) {
	x := LeftOut{Treatment: t.ID, Patient: t.Patient, Start: t.Start, Machine: t.Machine, Station: t.Station}
	p, err := PatientByID(j.r, t.Patient)
	if err != nil {
		return x, err
	}
	x.Name = p.Name
	x.Code, x.Why, err = j.leftOut(nil, t)
	return x, err
}

// gap returns what a treatment lacks of a category, nil if it lacks nothing.
func (j *judging) gap(t *Treatment, c inventory.Category) (*Gap, error) {
	if g, ok := t.gaps()[c]; ok {
		return &g, nil
	}
	if t.recorded(c) > 0 {
		return nil, nil
	}
	return j.b.unkept(j.r, j.u, t, c)
}

// leftOut says why an answer leaves a treatment out, and adds what that rests on
// to gr, unless it is nil.
func (j *judging) leftOut(gr *grounds, t *Treatment) (code LeftOutCode, why string, err error) {
	if t.NotDone {
		gr.add(showsOpened, t.Opened)
		return LeftOutNotDone, LeftOutNotDone.Meaning(), nil
	}
	for _, c := range j.a.carriers {
		for _, kind := range c.kinds {
			next, words, err := j.without(gr, c, t, kind)
			if err != nil {
				return "", "", err
			}
			switch {
			case code == "" || code == LeftOutNotUsed:
				code, why = next, words
			case !strings.Contains(why, words) && next != LeftOutNotUsed:
				why += "; " + words
			}
		}
	}
	if code == "" {
		gr.add(showsOpened, t.Opened)
		return LeftOutNotUsed, "nothing of this product is recorded, and it is not known what it is for", nil
	}
	return code, why, nil
}

// without says why a treatment has nothing of a carrier as one kind.
func (j *judging) without(gr *grounds, c *carrier, t *Treatment, kind inventory.Category) (code LeftOutCode, why string, err error) {
	g, err := j.gap(t, kind)
	if err != nil {
		return "", "", err
	}
	if g != nil && len(c.pres.spans) == 0 && c.batch == nil { // no entry ever showed it here
		if gr != nil {
			err = gr.lacking(j.r, g)
		}
		return LeftOutNotYet, LeftOutNotYet.Meaning(), err
	}
	if g != nil && (c.batch == nil || c.batch.Tank == "") {
		_, code, err := j.b.grade(j.r, c, g, j.s, gr)
		if err == nil && gr != nil {
			if err = gr.absent(j.r, j.a, c, code); err == nil {
				err = gr.lacking(j.r, g)
			}
		}
		return code, code.Meaning(), err
	}
	if g != nil {
		if gr != nil {
			err = gr.lacking(j.r, g)
		}
		gr.add(showsBatch, c.batch.Entry)
		return LeftOutNotFed, LeftOutNotFed.Meaning(), err
	}
	gr.add(showsOpened, t.Opened)
	var used []string
	for i := range t.Uses {
		if u := &t.Uses[i]; u.Struck == 0 && u.Counts(kind) > 0 {
			gr.add(showsOtherUse, u.Entry)
			used = append(used, fmt.Sprintf("lot %s of %s, %s", u.Lot, u.Product, u.How))
		}
	}
	for _, x := range t.Absences {
		if x.Category == kind {
			gr.add(showsAbsence, x.Entry)
			code = LeftOutWithout
		}
	}
	switch {
	case len(used) > 0:
		return LeftOutRecorded, LeftOutRecorded.Meaning() + ": " + strings.Join(used, "; "), nil
	case code != "":
		return code, code.Meaning(), nil
	}
	return LeftOutNotUsed, LeftOutNotUsed.Meaning(), nil
}
