package notice

import (
	"context"
	"encoding/json"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
	"lotbook/trace"
)

// A DrillID names a drill in this unit: "D" and a number.
type DrillID string

// DrillBegun starts a drill: a mock notice on a lot, to see how long it takes to
// say who met it and where every piece is. It holds nothing.
type DrillBegun struct {
	Drill   DrillID             `json:"drill"`
	Product inventory.ProductID `json:"product"`
	Lot     string              `json:"lot"`
	// Among is of how many lots it was drawn by chance, 0 if it was chosen.
	Among int    `json:"drawn_among,omitempty"`
	Note  string `json:"note,omitempty"`
}

// DrillEnded ends a drill, with what came out.
type DrillEnded struct {
	Drill  DrillID     `json:"drill"`
	Result DrillResult `json:"result"`
}

// A DrillResult is what a drill came to.
type DrillResult struct {
	// Seconds from the beginning to the end.
	Seconds int64 `json:"seconds"`
	// Mass is the lot's balance, Counts the treatments by grade, Gaps the
	// treatments that lack a record of this kind in the lot's time.
	Mass   inventory.MassBalance `json:"mass_balance"`
	Counts []trace.GradeCount    `json:"counts"`
	Gaps   int                   `json:"treatments_without_record"`
	// Recorded is the share of the pieces that came in that the record
	// accounts for, in thousandths: all but what is unaccounted for.
	Recorded int64 `json:"recorded_thousandths"`
	// Searched tells that somebody looked for what should be there, Shelf
	// holds what was looked for, and Found is the share accounted for when only
	// what was found there counts, in thousandths.
	Searched bool    `json:"searched,omitempty"`
	Shelf    []Shelf `json:"shelf,omitempty"`
	Found    int64   `json:"found_thousandths,omitempty"`
	// HeldUp is what kept the answer from being complete: what follows from the
	// record, and then what people said.
	HeldUp []string `json:"held_up"`
	// Head is the journal that it was answered from.
	Head journal.Head `json:"as_of"`
}

// A Shelf is a place with pieces of the lot: how many the book has there, and
// how many were found.
type Shelf struct {
	Location inventory.LocationID `json:"location"`
	Book     int64                `json:"book"`
	Found    int64                `json:"found"`
}

// A Drill is one that was begun, by whom and when, and what came out if it is
// ended.
type Drill struct {
	DrillBegun
	Done
	Result *DrillResult `json:"result,omitempty"`
	Ended  *Done        `json:"ended,omitempty"`
}

// Kind implements inventory.Event.
func (*DrillBegun) Kind() string { return "drill.begun" }

// Project implements inventory.Event.
func (v *DrillBegun) Project(w inventory.Writer, e journal.Entry) error {
	return saveDrill(w, &Drill{DrillBegun: *v, Done: Done{e.Seq, e.Actor, e.Recorded}})
}

// Kind implements inventory.Event.
func (*DrillEnded) Kind() string { return "drill.ended" }

// Project implements inventory.Event.
func (v *DrillEnded) Project(w inventory.Writer, e journal.Entry) error {
	d, err := DrillByID(w, v.Drill)
	if err != nil {
		return err
	}
	d.Result, d.Ended = &v.Result, &Done{e.Seq, e.Actor, e.Recorded}
	return saveDrill(w, d)
}

// ixDrill holds the drills: drill -> Drill.
const ixDrill inventory.Index = "drill"

func saveDrill(w inventory.Writer, d *Drill) error {
	doc, err := json.Marshal(d)
	if err != nil {
		return err
	}
	return w.Put(ixDrill, rowcode.AppendText(nil, string(d.Drill)), doc)
}

// DrillByID returns a drill, or a Refusal if there is none of that id.
func DrillByID(r inventory.Reader, id DrillID) (*Drill, error) {
	doc, err := r.Get(ixDrill, rowcode.AppendText(nil, string(id)))
	if err == nil && doc == nil {
		err = inventory.NotFound("drill", string(id), "Choose one of the list, or begin one.")
	}
	if err != nil {
		return nil, err
	}
	d := new(Drill)
	return d, json.Unmarshal(doc, d)
}

// Drills returns the drills, the newest first.
func (b *Book) Drills(ctx context.Context) ([]Drill, error) {
	list := []Drill{}
	err := b.View(ctx, func(r inventory.Reader) error {
		return r.ScanBack(ixDrill, nil, nil, func(_, doc []byte) error {
			var d Drill
			err := json.Unmarshal(doc, &d)
			list = append(list, d)
			return err
		})
	})
	return list, err
}
