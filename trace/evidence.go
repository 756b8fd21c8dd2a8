package trace

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"lotbook/inventory"
)

// An Evidence is a line of a lot's answer, opened to the entries that it rests
// on: strike one of them out, and the line is another one, or rests on others.
type Evidence struct {
	Treatment TreatmentID `json:"treatment"`
	Patient   PatientID   `json:"patient"`
	Name      string      `json:"patient_name,omitempty"`
	Start     time.Time   `json:"start"`
	Machine   MachineID   `json:"machine"`
	Station   StationID   `json:"station"`
	// Grade is the surest that the answer lists the treatment with, or
	// Excluded, and then Code says why.
	Grade Grade       `json:"grade"`
	Code  LeftOutCode `json:"code,omitempty"`
	// Why are the reasons in words, one for each way in which the lot met the
	// treatment, or may have.
	Why []string `json:"why"`
	// Entries are in the order in which they happened; Further is how many
	// there are beyond those.
	Entries []EvidenceEntry `json:"entries"`
	Further int             `json:"further_entries"`
}

// An EvidenceEntry is an entry of the journal and what it shows.
type EvidenceEntry struct {
	Entry    uint64    `json:"entry"`
	Kind     string    `json:"kind"`
	Happened time.Time `json:"happened"`
	Recorded time.Time `json:"recorded"`
	By       string    `json:"by"`
	// Words say what the entry records, Shows what it is to the line.
	Words string `json:"words"`
	Shows string `json:"shows"`
}

// mostEvidence is how many entries are listed at most: of a lot that was
// accounted for to the piece, all its uses are evidence.
const mostEvidence = 500

// ExposureEvidence opens the line of a treatment in the answer about a lot: of
// one that is listed, and of one that is left out. It costs what the answer
// does.
func (b *Book) ExposureEvidence(ctx context.Context, q Question, id TreatmentID) (*Evidence, error) {
	a, err := b.Exposures(ctx, q)
	if err != nil {
		return nil, err
	}
	var e *Evidence
	err = b.View(ctx, func(r inventory.Reader) error {
		e, err = b.weigh(r, a, id)
		return err
	})
	return e, err
}

// weigh opens the line of one treatment.
func (b *Book) weigh(r inventory.Reader, a *LotAnswer, id TreatmentID) (*Evidence, error) {
	t, err := TreatmentByID(r, id)
	if err != nil {
		return nil, err
	}
	if t.Struck != 0 {
		return nil, inventory.Conflict("treatment_struck_out", "Ask about a treatment that took place.", "treatment %s was struck out by entry %d", id, t.Struck)
	}
	p, err := PatientByID(r, t.Patient)
	if err != nil {
		return nil, err
	}
	e := &Evidence{
		Treatment: id, Patient: t.Patient, Name: p.Name, Start: t.Start, Machine: t.Machine, Station: t.Station, Grade: Excluded, Why: []string{}, Entries: []EvidenceEntry{},
	}
	gr := &grounds{}
	j, err := b.judging(r, a)
	if err != nil {
		return nil, err
	}
	for _, c := range a.carriers {
		if err := j.recorded(e, gr, c, t); err != nil {
			return nil, err
		}
		if err := j.supposed(e, gr, c, t); err != nil {
			return nil, err
		}
	}
	if e.Grade == Excluded {
		why := ""
		if e.Code, why, err = j.leftOut(gr, t); err != nil {
			return nil, err
		}
		e.Why = append(e.Why, why)
	}
	return e, b.open(r, a, e, gr)
}

// line adds a way in which the lot met the treatment, or may have.
func (e *Evidence) line(x *Exposure) {
	if e.Grade == Excluded || surer(x.Grade, e.Grade) {
		e.Grade = x.Grade
	}
	if !slices.Contains(e.Why, x.Why) {
		e.Why = append(e.Why, x.Why)
	}
}

// recorded adds what is on record of the lot in a treatment: its uses, what fed
// its station, scans that met a stop.
func (j *judging) recorded(e *Evidence, gr *grounds, c *carrier, t *Treatment) error {
	found := false
	for i := range t.Uses {
		u := &t.Uses[i]
		if u.Struck != 0 || !slices.Contains(c.lots, inventory.Lot{Product: u.Product, Number: u.Lot}) {
			continue
		}
		found = true
		x := c.exposure(j.a, Exposure{Grade: Confirmed, Why: whyUsed(u.How)})
		e.line(&x)
		gr.add(showsUse, u.Entry)
		gr.add(showsOpened, t.Opened)
	}
	stopped := func(x *Stopped) bool {
		return slices.Contains(c.lots, inventory.Lot{Product: x.Product, Number: x.Lot})
	}
	for i := range t.Stopped {
		if s := &t.Stopped[i]; stopped(s) && !t.NotDone {
			found = true
			x := c.exposure(j.a, Exposure{Grade: Probable, Why: whyStopped})
			e.line(&x)
			gr.add(showsStop, s.Entry)
		}
	}
	if !found {
		return nil
	}
	return gr.through(j.r, c)
}

// supposed adds the lines of a treatment that are no record of the lot, through
// one carrier.
func (j *judging) supposed(e *Evidence, gr *grounds, c *carrier, t *Treatment) error {
	for _, list := range [][]Exposure{j.a.fed, j.a.Unrecorded} {
		for i := range list {
			x := &list[i]
			if x.Treatment != t.ID || x.Via != c.holder || x.How != Fed && x.Entry != 0 {
				continue
			}
			e.line(x)
			if x.How == Fed {
				if err := j.fed(gr, c, t); err != nil {
					return err
				}
			} else if err := j.gaps(gr, c, t); err != nil {
				return err
			}
			if err := gr.through(j.r, c); err != nil {
				return err
			}
		}
	}
	return nil
}

// fed adds the feeds through which a treatment's station had a batch.
func (j *judging) fed(gr *grounds, c *carrier, t *Treatment) error {
	kind, err := j.s.category(c.batch.ID)
	if err != nil {
		return err
	}
	start, end := t.span()
	sources, _, err := j.s.of(t.Station, kind, start, end)
	if err != nil {
		return err
	}
	for i := range sources {
		if sources[i].batch.ID == c.batch.ID {
			gr.feed(&sources[i], end)
		}
	}
	g := t.gap(Missing{Category: kind})
	return gr.lacking(j.r, &g)
}

// gaps adds what says that a treatment lacks a record, and that the lot may have
// filled it.
func (j *judging) gaps(gr *grounds, c *carrier, t *Treatment) error {
	for _, kind := range c.kinds {
		g, err := j.gap(t, kind)
		if err != nil || g == nil {
			return err
		}
		_, code, err := j.b.grade(j.r, c, g, j.s, gr)
		if err != nil {
			return err
		}
		if code != "" {
			continue
		}
		if err := gr.lacking(j.r, g); err != nil {
			return err
		}
		gr.present(&c.pres, g.Location, g.Start, g.end())
		if err := gr.opened(j.r, c); err != nil {
			return err
		}
	}
	return nil
}

// open fills in the entries of what a line rests on.
func (b *Book) open(r inventory.Reader, a *LotAnswer, e *Evidence, gr *grounds) error {
	slices.SortStableFunc(gr.list, func(x, y ground) int { return cmp.Compare(x.entry, y.entry) })
	for i, g := range gr.list {
		if i > 0 && g.entry == gr.list[i-1].entry {
			if last := &e.Entries[len(e.Entries)-1]; last.Entry == g.entry {
				last.Shows += "; " + string(g.shows)
			}
			continue
		}
		if len(e.Entries) == mostEvidence {
			e.Further++
			continue
		}
		entry, err := r.Entry(g.entry)
		if err != nil {
			return err
		}
		ev, err := b.Registry().Decode(entry)
		if err != nil {
			return err
		}
		e.Entries = append(e.Entries, EvidenceEntry{
			Entry: g.entry, Kind: entry.Kind, Happened: entry.Happened, Recorded: entry.Recorded, By: entry.Actor, Words: wordsOf(ev, a), Shows: string(g.shows),
		})
	}
	slices.SortStableFunc(e.Entries, func(x, y EvidenceEntry) int {
		return cmp.Or(x.Happened.Compare(y.Happened), cmp.Compare(x.Entry, y.Entry))
	})
	return nil
}

// wordsOf says in a line what an entry records, with an eye to the lot of an
// answer.
func wordsOf(ev inventory.Event, a *LotAnswer) string {
	switch v := ev.(type) {
	case *inventory.Received:
		return fmt.Sprintf("%s received at %s", pieces(&v.Stock), v.To)
	case *inventory.Borrowed:
		return fmt.Sprintf("%s taken in from another unit, %s, to %s", pieces(&v.Stock), v.Other, v.To)
	case *inventory.Moved:
		return fmt.Sprintf("%s moved from %s to %s", pieces(&v.Stock), v.From, v.To)
	case *inventory.Consumed:
		return fmt.Sprintf("%s used outside treatments, from %s: %s", pieces(&v.Stock), v.From, v.Purpose)
	case *inventory.Wasted:
		return fmt.Sprintf("%s thrown away from %s: %s", pieces(&v.Stock), v.From, v.Cause)
	case *inventory.Departed:
		return fmt.Sprintf("%s %s from %s, %s", pieces(&v.Stock), v.How, v.From, v.Other)
	case *inventory.Counted:
		return countWords(v, a)
	case *inventory.KitContents:
		return fmt.Sprintf("kit lot %s of %s holds %s", v.Lot, v.Product, contentWords(v.Contents))
	case *BatchMade:
		return fmt.Sprintf("batch %s of %s made by %s%s", v.Batch, v.Product, v.MixedBy, in(", poured into tank ", string(v.Tank)))
	case *BatchInput:
		return fmt.Sprintf("%s went into batch %s", pieces(&v.Stock), v.Batch)
	case *BatchEnded:
		return fmt.Sprintf("the rest of batch %s was used up or thrown away", v.Batch)
	case *TankFed:
		return fmt.Sprintf("tank %s feeds %s%s", v.Tank, stationWords(v.Stations), in(" until ", stamp(v.Until)))
	case *FeedEnded:
		return fmt.Sprintf("feed of entry %d from tank %s ended", v.Feed, v.Tank)
	case *TankEmptied:
		return fmt.Sprintf("tank %s emptied", v.Tank)
	case *ContainerOpened:
		return fmt.Sprintf("%s opened as container %s at %s", pieces(&v.Stock), v.Container, v.Place)
	case *ContainerClosed:
		return fmt.Sprintf("container %s %s", v.Container, v.How)
	case *ContainerMoved:
		return fmt.Sprintf("container %s carried to %s", v.Container, v.Place)
	}
	return treatmentWords(ev)
}
