package trace

import (
	"time"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
)

// A Gap is a treatment of which something required is not recorded by lot: the
// place where a lot could have been used that nobody wrote down.
type Gap struct {
	Treatment  TreatmentID
	Category   inventory.Category
	Patient    PatientID
	Machine    MachineID
	Station    StationID
	Location   inventory.LocationID
	Start, End time.Time
	// Product is the one prescribed or the unit's default; Known is the
	// product of a use that was recorded without a lot.
	Product, Known inventory.ProductID
	Pieces         int64
	Cause          string
}

func (t *Treatment) gap(m Missing) Gap {
	return Gap{
		Treatment: t.ID, Category: m.Category, Patient: t.Patient, Machine: t.Machine, Station: t.Station,
		Location: t.Location, Start: t.Start, End: t.End, Product: m.Product, Known: m.Known, Pieces: m.Pieces, Cause: m.Cause,
	}
}

// end is when the treatment was over; one that is open goes on.
func (g *Gap) end() time.Time {
	if g.End.IsZero() {
		return rowcode.MaxTime
	}
	return g.End
}

func gapKey(c inventory.Category, start time.Time, id TreatmentID) []byte {
	return rowcode.AppendText(rowcode.AppendTime(rowcode.AppendText(nil, string(c)), start), string(id))
}

// gaps returns what the treatment lacks, by category.
func (t *Treatment) gaps() map[inventory.Category]Gap {
	lacks := map[inventory.Category]Gap{}
	for _, m := range t.Missing() {
		lacks[m.Category] = t.gap(m)
	}
	return lacks
}

// saveGaps writes the rows of what a closed treatment lacks, and deletes those
// of what it lacks no more.
func (t *Treatment) saveGaps(w inventory.Writer) error {
	lacks := map[inventory.Category]Gap{}
	if t.Closed && t.Struck == 0 {
		lacks = t.gaps()
	}
	for _, q := range t.Required {
		if _, ok := lacks[q.Category]; !ok {
			if err := w.Delete(ixGap, gapKey(q.Category, t.Start, t.ID)); err != nil {
				return err
			}
		}
	}
	for c, g := range lacks {
		v := rowcode.NewEnc(1, 96)
		v.Text(string(g.Patient))
		v.Text(string(g.Machine))
		v.Text(string(g.Station))
		v.Text(string(g.Location))
		v.Time(g.End)
		v.Text(string(g.Product))
		v.Text(string(g.Known))
		v.Int(g.Pieces)
		v.Text(g.Cause)
		if err := w.Put(ixGap, gapKey(c, t.Start, t.ID), v.Bytes()); err != nil {
			return err
		}
	}
	return nil
}

// dropGaps deletes the rows of what a treatment lacked while it was closed.
func (t *Treatment) dropGaps(w inventory.Writer) error {
	for c := range t.gaps() {
		if err := w.Delete(ixGap, gapKey(c, t.Start, t.ID)); err != nil {
			return err
		}
	}
	return nil
}

// longest is how long a treatment can be between its start and its end: what
// started earlier than this before an instant was over by then, unless it is
// still open.
const longest = 48 * time.Hour

// ScanGaps calls fn for the gaps of a category that may lie in [from, to]: of
// closed treatments by start, then of open ones.
func ScanGaps(r inventory.Reader, c inventory.Category, from, to time.Time, fn func(*Gap) error) error {
	prefix := rowcode.AppendText(nil, string(c))
	start := rowcode.AppendTime(prefix[:len(prefix):len(prefix)], from.Add(-longest))
	err := r.Scan(ixGap, prefix, start, func(key, row []byte) error {
		k := rowcode.ReadKey(key)
		g := Gap{Category: inventory.Category(k.Text()), Start: k.Time(), Treatment: TreatmentID(k.Text())}
		if err := k.Err(); err != nil {
			return err
		}
		if g.Start.After(to) {
			return inventory.ErrStop
		}
		d := rowcode.NewDec(1, row)
		g.Patient = PatientID(d.Text())
		g.Machine = MachineID(d.Text())
		g.Station = StationID(d.Text())
		g.Location = inventory.LocationID(d.Text())
		g.End = d.Time()
		g.Product = inventory.ProductID(d.Text())
		g.Known = inventory.ProductID(d.Text())
		g.Pieces = d.Int()
		g.Cause = d.Text()
		if err := d.Err(); err != nil {
			return err
		}
		if g.End.Before(from) {
			return nil
		}
		return fn(&g)
	})
	if err != nil {
		return err
	}
	return ScanOpen(r, func(t *Treatment) error {
		if t.Start.After(to) {
			return nil
		}
		if g, ok := t.gaps()[c]; ok {
			return fn(&g)
		}
		return nil
	})
}

// ScanOpen calls fn for the treatments that are not closed, by start.
func ScanOpen(r inventory.Reader, fn func(*Treatment) error) error {
	return scanTreatments(r, ixOpen, nil, nil, time.Time{}, fn)
}

// ScanStarts calls fn for the treatments that started in [from, to), by start.
func ScanStarts(r inventory.Reader, from, to time.Time, fn func(*Treatment) error) error {
	return scanTreatments(r, ixStart, nil, rowcode.AppendTime(nil, from), to, fn)
}

func scanTreatments(r inventory.Reader, ix inventory.Index, prefix, from []byte, to time.Time, fn func(*Treatment) error) error {
	return r.Scan(ix, prefix, from, func(key, _ []byte) error {
		k := rowcode.ReadKey(key[len(prefix):])
		start, id := k.Time(), TreatmentID(k.Text())
		if err := k.Err(); err != nil {
			return err
		}
		if !to.IsZero() && !start.Before(to) {
			return inventory.ErrStop
		}
		t, err := TreatmentByID(r, id)
		if err != nil {
			return err
		}
		return fn(t)
	})
}

// ScanPatient calls fn for a patient's treatments by start.
func ScanPatient(r inventory.Reader, p PatientID, fn func(*Treatment) error) error {
	return scanTreatments(r, ixPatientStart, rowcode.AppendText(nil, string(p)), nil, time.Time{}, fn)
}
