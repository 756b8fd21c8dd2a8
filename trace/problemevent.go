package trace

import (
	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// ProblemReported says that something was wrong with a product.
type ProblemReported struct {
	Problem ProblemID `json:"problem"`
	ProblemFacts
}

// Kind implements inventory.Event.
func (*ProblemReported) Kind() string { return "problem.reported" }

// Project implements inventory.Event.
func (v *ProblemReported) Project(w inventory.Writer, e journal.Entry) error {
	if err := v.noteLot(w, e); err != nil {
		return err
	}
	p := &Problem{ID: v.Problem, At: e.Happened, Recorded: e.Recorded, By: e.Actor, Entry: e.Seq, Parts: []ProblemPart{v.part(e)}}
	return p.save(w)
}

// Void implements inventory.Voider: there was no such problem.
func (v *ProblemReported) Void(w inventory.Writer, e, c journal.Entry) error {
	return changeProblem(w, v.Problem, func(p *Problem) error {
		p.Struck = c.Seq
		return strikePart(p, e, c)
	})
}

// ProblemFollowed says more of a problem, or says it better.
type ProblemFollowed struct {
	Problem ProblemID `json:"problem"`
	ProblemFacts
}

// Kind implements inventory.Event.
func (*ProblemFollowed) Kind() string { return "problem.followed" }

// Project implements inventory.Event.
func (v *ProblemFollowed) Project(w inventory.Writer, e journal.Entry) error {
	if err := v.noteLot(w, e); err != nil {
		return err
	}
	return changeProblem(w, v.Problem, func(p *Problem) error {
		p.Parts = append(p.Parts, v.part(e))
		return nil
	})
}

// Void implements inventory.Voider: what was said before counts again.
func (v *ProblemFollowed) Void(w inventory.Writer, e, c journal.Entry) error {
	return changeProblem(w, v.Problem, func(p *Problem) error { return strikePart(p, e, c) })
}

// ProblemPictured adds a picture to a problem. The picture is a part of the
// journal: it is hashed, copied and checked with it, and like everything there
// it can be struck out and not be removed.
type ProblemPictured struct {
	Problem ProblemID `json:"problem"`
	About   string    `json:"about,omitempty"`
	// JPEG is the picture as it is kept: redrawn, without what a camera writes
	// beside it.
	JPEG   []byte `json:"jpeg"`
	Width  int    `json:"width"`
	Height int    `json:"height"`
}

// Kind implements inventory.Event.
func (*ProblemPictured) Kind() string { return "problem.pictured" }

// Project implements inventory.Event.
func (v *ProblemPictured) Project(w inventory.Writer, e journal.Entry) error {
	return changeProblem(w, v.Problem, func(p *Problem) error {
		p.Pictures = append(p.Pictures, ProblemPicture{
			Entry: e.Seq, At: e.Happened, By: e.Actor, About: v.About, Width: v.Width, Height: v.Height, Bytes: len(v.JPEG),
		})
		return nil
	})
}

// Void implements inventory.Voider: it is not shown any more.
func (v *ProblemPictured) Void(w inventory.Writer, e, c journal.Entry) error {
	return changeProblem(w, v.Problem, func(p *Problem) error { return strikePart(p, e, c) })
}

func (f *ProblemFacts) part(e journal.Entry) ProblemPart {
	return ProblemPart{Entry: e.Seq, At: e.Happened, By: e.Actor, ProblemFacts: *f}
}

// noteLot has the lot on record: an entry names it.
func (f *ProblemFacts) noteLot(w inventory.Writer, e journal.Entry) error {
	if f.Product == "" || f.Lot == "" {
		return nil
	}
	return inventory.NoteLot(w, e, inventory.Lot{Product: f.Product, Number: f.Lot}, "", "")
}
