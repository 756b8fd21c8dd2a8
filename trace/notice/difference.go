package notice

import (
	"context"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/trace"
)

// A Difference is what a later version of a notice adds to the answer of an
// earlier one, and, where it stands alone, what it takes away. Both are answered
// from what is on record today.
type Difference struct {
	Notice ID           `json:"notice"`
	From   int          `json:"from_version"`
	To     int          `json:"to_version"`
	AsOf   journal.Head `json:"as_of"`
	// NewLots are meant, or may be, by the later version only; GoneLots by the
	// earlier one only.
	NewLots  []LotMatch `json:"new_lots"`
	GoneLots []LotMatch `json:"gone_lots"`
	// New are treatments that only the later answer lists; Surer are those
	// that it lists under a surer grade.
	New   []Exposed `json:"new_treatments"`
	Surer []Exposed `json:"surer_treatments"`
	Gone  []Exposed `json:"gone_treatments"`
	// NewPatients are those whom nobody had to be told of before.
	NewPatients  []PatientLine `json:"new_patients"`
	GonePatients []PatientLine `json:"gone_patients"`
	NewMachines  []PlaceLine   `json:"new_machines"`
}

// Difference answers who is new on the list since an earlier version.
func (b *Book) Difference(ctx context.Context, id ID, from, to int) (*Difference, error) {
	err := b.View(ctx, func(r inventory.Reader) error {
		s, err := ByID(r, id)
		if err == nil && (from < 1 || to > len(s.Versions) || from >= to) {
			err = inventory.Invalid("version", "Compare an earlier version with a later one.", "versions %d and %d of %d", from, to, len(s.Versions))
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	old, err := b.Answer(ctx, id, from)
	if err != nil {
		return nil, err
	}
	now, err := b.Answer(ctx, id, to)
	if err != nil {
		return nil, err
	}
	d := &Difference{Notice: id, From: from, To: to, AsOf: now.AsOf}
	key := func(l *LotLine) inventory.Lot { return inventory.Lot{Product: l.Product, Number: l.Lot} }
	meant := func(list []LotLine) []LotLine {
		var out []LotLine
		for _, l := range list {
			if l.Verdict != inventory.NotMeant {
				out = append(out, l)
			}
		}
		return out
	}
	for _, l := range without(meant(now.Lots), meant(old.Lots), key) {
		d.NewLots = append(d.NewLots, l.LotMatch)
	}
	for _, l := range without(meant(old.Lots), meant(now.Lots), key) {
		d.GoneLots = append(d.GoneLots, l.LotMatch)
	}
	treatment := func(t *Exposed) trace.TreatmentID { return t.Treatment }
	d.New, d.Gone = without(now.Treatments, old.Treatments, treatment), without(old.Treatments, now.Treatments, treatment)
	was := map[trace.TreatmentID]trace.Grade{}
	for i := range old.Treatments {
		was[old.Treatments[i].Treatment] = old.Treatments[i].Grade
	}
	for _, t := range now.Treatments {
		if g, ok := was[t.Treatment]; ok && t.Grade.Surer(g) {
			d.Surer = append(d.Surer, t)
		}
	}
	patient := func(p *PatientLine) trace.PatientID { return p.Patient }
	d.NewPatients, d.GonePatients = without(now.Patients, old.Patients, patient), without(old.Patients, now.Patients, patient)
	d.NewMachines = without(now.Machines, old.Machines, func(p *PlaceLine) string { return p.ID })
	return d, nil
}

// without returns what of a list the other has not.
func without[T any, K comparable](list, other []T, key func(*T) K) []T {
	has := map[K]bool{}
	for i := range other {
		has[key(&other[i])] = true
	}
	var out []T
	for i := range list {
		if !has[key(&list[i])] {
			out = append(out, list[i])
		}
	}
	return out
}
