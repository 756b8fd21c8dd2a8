package trace

import (
	"fmt"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
)

// The treatment's row is written anew with every scan, so it is compact: some
// 60 bytes and 90 a use.

func (t *Treatment) row() []byte {
	v := rowcode.NewEnc(1, 256+128*len(t.Uses))
	v.Text(string(t.Patient))
	v.Text(string(t.Machine))
	v.Text(string(t.Station))
	v.Text(string(t.Location))
	v.Time(t.Start)
	v.Int(t.Planned)
	v.Uint(t.Opened)
	v.Text(t.By)
	v.Flag(t.Closed)
	v.Time(t.End)
	v.Int(t.Minutes)
	v.Flag(t.NotDone)
	v.Uint(t.Struck)
	v.Uint(uint64(len(t.Required)))
	for _, q := range t.Required {
		v.Text(string(q.Category))
		v.Text(string(q.Product))
		v.Flag(q.Prescribed)
		v.Int(q.Pieces)
	}
	v.Uint(uint64(len(t.Uses)))
	for i := range t.Uses {
		u := &t.Uses[i]
		v.Uint(u.Entry)
		v.Text(string(u.Category))
		v.Text(string(u.Product))
		v.Text(u.Lot)
		v.Text(u.Serial)
		v.Text(string(u.Expires))
		v.Int(u.Quantity)
		v.Text(string(u.Location))
		v.Text(string(u.How))
		v.Text(u.By)
		v.Time(u.From)
		v.Time(u.Until)
		v.Uint(u.Replaces)
		v.Text(u.Cause)
		v.Text(u.Reason)
		v.Uint(uint64(len(u.Findings)))
		for _, f := range u.Findings {
			v.Text(f)
		}
		v.Uint(u.Struck)
		v.Text(string(u.Container))
		v.Uint(uint64(len(u.Also)))
		for _, p := range u.Also {
			v.Text(string(p.Category))
			v.Int(p.Pieces)
		}
	}
	v.Uint(uint64(len(t.Absences)))
	for _, a := range t.Absences {
		v.Uint(a.Entry)
		v.Text(string(a.Category))
		v.Flag(a.Used)
		v.Text(a.Cause)
		v.Uint(a.Replaces)
		v.Text(a.By)
		v.Time(a.At)
	}
	v.Uint(uint64(len(t.Stopped)))
	for _, s := range t.Stopped {
		v.Uint(s.Entry)
		v.Text(string(s.Category))
		v.Text(string(s.Product))
		v.Text(s.Lot)
		v.Uint(uint64(len(s.Findings)))
		for _, f := range s.Findings {
			v.Text(f.Code)
			v.Text(string(f.Level))
			v.Text(f.Message)
		}
		v.Text(s.By)
		v.Time(s.At)
	}
	return v.Bytes()
}

func decodeTreatment(id TreatmentID, row []byte) (*Treatment, error) {
	d := rowcode.NewTextDec(1, row)
	t := &Treatment{
		ID:       id,
		Patient:  PatientID(d.Text()),
		Machine:  MachineID(d.Text()),
		Station:  StationID(d.Text()),
		Location: inventory.LocationID(d.Text()),
		Start:    d.Time(),
		Planned:  d.Int(),
		Opened:   d.Uint(),
		By:       d.Text(),
		Closed:   d.Flag(),
		End:      d.Time(),
		Minutes:  d.Int(),
		NotDone:  d.Flag(),
		Struck:   d.Uint(),
	}
	for range d.Count() {
		t.Required = append(t.Required, Required{inventory.Category(d.Text()), inventory.ProductID(d.Text()), d.Flag(), d.Int()})
	}
	for range d.Count() {
		u := Use{
			Entry:    d.Uint(),
			Category: inventory.Category(d.Text()),
			Product:  inventory.ProductID(d.Text()),
			Lot:      d.Text(),
			Serial:   d.Text(),
			Expires:  inventory.Date(d.Text()),
			Quantity: d.Int(),
			Location: inventory.LocationID(d.Text()),
			How:      How(d.Text()),
			By:       d.Text(),
			From:     d.Time(),
			Until:    d.Time(),
			Replaces: d.Uint(),
			Cause:    d.Text(),
			Reason:   d.Text(),
		}
		for range d.Count() {
			u.Findings = append(u.Findings, d.Text())
		}
		u.Struck = d.Uint()
		u.Container = ContainerID(d.Text())
		for range d.Count() {
			u.Also = append(u.Also, Part{inventory.Category(d.Text()), d.Int()})
		}
		t.Uses = append(t.Uses, u)
	}
	for range d.Count() {
		t.Absences = append(t.Absences, Absence{d.Uint(), inventory.Category(d.Text()), d.Flag(), d.Text(), d.Uint(), d.Text(), d.Time()})
	}
	for range d.Count() {
		s := Stopped{Entry: d.Uint(), Category: inventory.Category(d.Text()), Product: inventory.ProductID(d.Text()), Lot: d.Text()}
		for range d.Count() {
			s.Findings = append(s.Findings, inventory.Finding{Code: d.Text(), Level: inventory.Level(d.Text()), Message: d.Text()})
		}
		s.By, s.At = d.Text(), d.Time()
		t.Stopped = append(t.Stopped, s)
	}
	if err := d.Err(); err != nil {
		return nil, fmt.Errorf("treatment %s: %w", id, err)
	}
	return t, nil
}

func treatmentKey(id TreatmentID) []byte { return rowcode.AppendText(nil, string(id)) }

// TreatmentByID returns a treatment, or a Refusal that is
// inventory.ErrNotFound.
func TreatmentByID(r inventory.Reader, id TreatmentID) (*Treatment, error) {
	row, err := r.Get(ixTreatment, treatmentKey(id))
	if err != nil {
		return nil, err
	}
	if row == nil {
		return nil, inventory.NotFound("treatment", string(id), "Open it first, or choose one from the list.")
	}
	return decodeTreatment(id, row)
}

func (t *Treatment) startKey() []byte {
	return rowcode.AppendText(rowcode.AppendTime(nil, t.Start), string(t.ID))
}

// save writes the treatment's row and, of a closed one, the rows that say what
// is not recorded and how completely treatments are.
func (t *Treatment) save(w inventory.Writer) error {
	if t.Closed || t.Struck != 0 {
		if err := t.saveGaps(w); err != nil {
			return err
		}
		if err := t.saveKept(w); err != nil {
			return err
		}
	}
	return w.Put(ixTreatment, treatmentKey(t.ID), t.row())
}
