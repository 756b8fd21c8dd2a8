package trace

import (
	"context"
	"slices"
	"strconv"
	"time"

	"lotbook/inventory"
)

// A Book writes and reads a unit's treatments, and its stock by the
// inventory.Book in it. Its methods are safe for use by many goroutines.
type Book struct {
	*inventory.Book
}

// NewBook returns a Book over an inventory.Book whose registry knows the kinds
// of Events.
func NewBook(b *inventory.Book) *Book { return &Book{b} }

// SetPatient records a patient, new or renamed.
func (b *Book) SetPatient(ctx context.Context, call inventory.Call, p PatientSet) (inventory.Receipt, error) {
	return b.Record(ctx, call, p, func(inventory.Reader) ([]inventory.Event, error) {
		return []inventory.Event{&p}, checkName("patient", string(p.ID), p.Name)
	})
}

// SetPrescription records patients' prescriptions from now on, all or none.
func (b *Book) SetPrescription(ctx context.Context, call inventory.Call, ps ...PrescriptionSet) (inventory.Receipt, error) {
	return b.Record(ctx, call, ps, func(r inventory.Reader) ([]inventory.Event, error) {
		evs := make([]inventory.Event, len(ps))
		return evs, inventory.EachLine(len(ps), func(i int) error {
			evs[i] = &ps[i]
			if _, err := PatientByID(r, ps[i].Patient); err != nil {
				return err
			}
			return b.checkPrescription(r, &ps[i].Prescription)
		})
	})
}

func (b *Book) checkPrescription(r inventory.Reader, p *inventory.Prescription) error {
	if err := p.Check(); err != nil {
		return err
	}
	for c, id := range p.Products {
		if err := b.NeedProduct(r, id, c); err != nil {
			return err
		}
	}
	return nil
}

// SetMachine records a machine, new or renamed.
func (b *Book) SetMachine(ctx context.Context, call inventory.Call, m Machine) (inventory.Receipt, error) {
	return b.Record(ctx, call, m, func(inventory.Reader) ([]inventory.Event, error) {
		return []inventory.Event{&MachineSet{m}}, checkName("machine", string(m.ID), m.Name)
	})
}

// SetStation records a station, new or changed.
func (b *Book) SetStation(ctx context.Context, call inventory.Call, s Station) (inventory.Receipt, error) {
	return b.Record(ctx, call, s, func(r inventory.Reader) ([]inventory.Event, error) {
		if err := checkName("station", string(s.ID), s.Name); err != nil {
			return nil, err
		}
		if _, err := inventory.LocationByID(r, s.Location); err != nil {
			return nil, err
		}
		if s.Machine != "" {
			if _, err := MachineByID(r, s.Machine); err != nil {
				return nil, err
			}
		}
		return []inventory.Event{&StationSet{s}}, nil
	})
}

// Schedule plans treatments.
func (b *Book) Schedule(ctx context.Context, call inventory.Call, slots ...Slot) (inventory.Receipt, error) {
	return b.Record(ctx, call, slots, func(r inventory.Reader) ([]inventory.Event, error) {
		u, err := b.Unit(r)
		if err != nil {
			return nil, err
		}
		return []inventory.Event{&Scheduled{slots}}, inventory.EachLine(len(slots), func(i int) error {
			s := slots[i]
			if _, _, err := u.Window(s.Shift); err != nil {
				return err
			}
			if _, err := StationByID(r, s.Station); err != nil {
				return err
			}
			if s.Patient == "" {
				return nil
			}
			_, err := PatientByID(r, s.Patient)
			return err
		})
	})
}

// An Enrolment is a patient, and the prescription if one comes along.
type Enrolment struct {
	PatientSet
	Prescription *inventory.Prescription `json:"prescription,omitempty"`
}

// Enrol records patients and their prescriptions, all or none.
func (b *Book) Enrol(ctx context.Context, call inventory.Call, list ...Enrolment) (inventory.Receipt, error) {
	return b.Record(ctx, call, list, func(r inventory.Reader) ([]inventory.Event, error) {
		var evs []inventory.Event
		err := inventory.EachLine(len(list), func(i int) error {
			p := list[i]
			evs = append(evs, &p.PatientSet)
			if err := checkName("patient", string(p.ID), p.Name); err != nil {
				return err
			}
			if p.Prescription == nil {
				return nil
			}
			evs = append(evs, &PrescriptionSet{p.ID, *p.Prescription})
			return b.checkPrescription(r, p.Prescription)
		})
		return evs, err
	})
}

// An Opening asks to open a treatment. Machine may be left out where the
// station has one; Prescription where the patient has one.
type Opening struct {
	Patient      PatientID               `json:"patient"`
	Station      StationID               `json:"station"`
	Machine      MachineID               `json:"machine,omitempty"`
	Prescription *inventory.Prescription `json:"prescription,omitempty"`
	// Another opens it although the patient has one open since the last
	// hours.
	Another bool `json:"another,omitempty"`
}

// recent is how long ago a treatment that is still open may have begun to be
// taken for the one that is meant.
const recent = 12 * time.Hour

// alreadyOpen returns the patient's treatment that is open since the last
// hours before an instant, nil if there is none.
func alreadyOpen(r inventory.Reader, p PatientID, at time.Time) (open *Treatment, err error) {
	err = ScanOpen(r, func(t *Treatment) error {
		if t.Patient == p && t.Start.After(at.Add(-recent)) && t.Start.Before(at.Add(recent)) {
			open = t
			return inventory.ErrStop
		}
		return nil
	})
	return open, err
}

// Open begins a treatment; the call's time is its start. Receipt's one entry
// is an Opened that tells its id.
func (b *Book) Open(ctx context.Context, call inventory.Call, o Opening) (inventory.Receipt, error) {
	return b.Record(ctx, call, o, func(r inventory.Reader) ([]inventory.Event, error) {
		p, err := PatientByID(r, o.Patient)
		if err != nil {
			return nil, err
		}
		s, err := StationByID(r, o.Station)
		if err != nil {
			return nil, err
		}
		machine := o.Machine
		if machine == "" {
			machine = s.Machine
		}
		if _, err := MachineByID(r, machine); err != nil {
			return nil, err
		}
		at := b.when(call)
		if !o.Another {
			t, err := alreadyOpen(r, p.ID, at)
			if err != nil {
				return nil, err
			}
			if t != nil {
				return nil, inventory.Conflict("already_open", "Go on there, or say that this is another one.", "patient %s has treatment %s open at station %s, begun by %s", p.ID, t.ID, t.Station, t.By)
			}
		}
		rx := p.Prescription
		if o.Prescription != nil {
			rx = o.Prescription
		}
		if rx == nil {
			return nil, inventory.Conflict("no_prescription", "Record the prescription first, or give it with the treatment.", "patient %s has no prescription", p.ID)
		}
		if err := b.checkPrescription(r, rx); err != nil {
			return nil, err
		}
		req, err := b.requirements(r, rx, rx.Minutes)
		if err != nil {
			return nil, err
		}
		ev := &Opened{
			Treatment: TreatmentID("T" + strconv.FormatUint(r.Head().Seq+1, 10)),
			Patient:   p.ID, Machine: machine, Station: s.ID, Location: s.Location,
			Prescription: *rx, Required: req,
		}
		if ev.Supplied, err = b.suppliesAt(r, &Treatment{Station: s.ID}, at, at); err != nil {
			return nil, err
		}
		return []inventory.Event{ev}, b.supplyFindings(r, rx, req, ev.Supplied)
	})
}

// requirements returns what a treatment of so many minutes must have recorded
// by lot.
func (b *Book) requirements(r inventory.Reader, rx *inventory.Prescription, minutes int64) ([]Required, error) {
	u, err := b.Unit(r)
	if err != nil {
		return nil, err
	}
	xs, err := u.Expect(rx, minutes, func(id inventory.ProductID) (*inventory.Product, error) { return b.Product(r, id) })
	if err != nil {
		return nil, err
	}
	var list []Required
	for _, x := range xs {
		if x.Scan {
			_, prescribed := u.ProductFor(rx, x.Category)
			list = append(list, Required{x.Category, x.Product, prescribed, x.Pieces})
		}
	}
	return list, nil
}

// PrescriptionOf returns the prescription that a treatment was opened with.
func (b *Book) PrescriptionOf(r inventory.Reader, t *Treatment) (*inventory.Prescription, error) {
	e, err := r.Entry(t.Opened)
	if err != nil {
		return nil, err
	}
	ev, err := b.Registry().Decode(e)
	if err != nil {
		return nil, err
	}
	return &ev.(*Opened).Prescription, nil
}

// Expected returns what a treatment should use, with every figure's terms: by
// its real length when it is closed, by the planned one until then.
func (b *Book) Expected(r inventory.Reader, t *Treatment) ([]inventory.Expectation, error) {
	rx, err := b.PrescriptionOf(r, t)
	if err != nil {
		return nil, err
	}
	u, err := b.Unit(r)
	if err != nil {
		return nil, err
	}
	minutes := rx.Minutes
	if t.Closed {
		minutes = t.Minutes
	}
	return u.Expect(rx, minutes, func(id inventory.ProductID) (*inventory.Product, error) { return b.Product(r, id) })
}

// A Closing asks to close a treatment; the call's time is its end. Minutes is
// the real length; 0 takes the time from start to end.
type Closing struct {
	Treatment TreatmentID `json:"treatment"`
	Minutes   int64       `json:"minutes,omitempty"`
	// NotDone: the patient did not come, or was sent home. What had been
	// prepared is recorded as wasted, and no patient met it.
	NotDone bool   `json:"not_done,omitempty"`
	Note    string `json:"note,omitempty"`
}

// Close ends a treatment. The receipt's last entry is a Closed that tells what
// was still missing.
func (b *Book) Close(ctx context.Context, call inventory.Call, c Closing) (inventory.Receipt, error) {
	return b.Record(ctx, call, c, func(r inventory.Reader) ([]inventory.Event, error) {
		t, err := b.openTreatment(r, c.Treatment)
		if err != nil {
			return nil, err
		}
		end := b.when(call)
		span := end.Sub(t.Start)
		if span < 0 || span > longest {
			return nil, inventory.Invalid("at", "Give the time when the treatment ended.", "treatment %s started at %s and can't end at %s", t.ID, t.Start.Format(time.RFC3339), end.UTC().Format(time.RFC3339))
		}
		sup, err := b.TreatmentSupplies(r, t, end)
		if err != nil {
			return nil, err
		}
		ev := &Closed{Treatment: t.ID, Minutes: c.Minutes, NotDone: c.NotDone, Note: c.Note, Missing: lacks(t.Missing(), t, sup)}
		if c.NotDone {
			if c.Note == "" {
				return nil, inventory.Invalid("note", "Say why: the patient did not come, was sent home, …", "a treatment that was not done needs a reason")
			}
			ev.Minutes, ev.Missing = 0, nil
			return append(notDone(t, c.Note), ev), nil
		}
		if ev.Minutes == 0 {
			ev.Minutes = int64(span / time.Minute)
		}
		if ev.Minutes < 0 || ev.Minutes > int64(longest/time.Minute) {
			return nil, inventory.Invalid("minutes", "Give the real length in minutes.", "a length of %d minutes", ev.Minutes)
		}
		return []inventory.Event{ev}, b.longerRun(r, t, ev, sup)
	})
}

// longerRun adds what a run longer than planned requires beyond what was
// required when the treatment was opened. A shorter run requires no less: what
// was hung was used.
func (b *Book) longerRun(r inventory.Reader, t *Treatment, ev *Closed, sup []Supply) error {
	if ev.Minutes <= t.Planned {
		return nil
	}
	rx, err := b.PrescriptionOf(r, t)
	if err != nil {
		return err
	}
	after, err := b.requirements(r, rx, ev.Minutes)
	if err != nil {
		return err
	}
	req := slices.Clone(t.Required)
	for i := range req {
		for _, q := range after {
			if q.Category == req[i].Category && q.Pieces > req[i].Pieces {
				req[i].Pieces = q.Pieces
				ev.Required = req
			}
		}
	}
	if ev.Required != nil {
		longer := *t
		longer.Required = ev.Required
		ev.Missing = lacks(longer.Missing(), &longer, sup)
	}
	return nil
}

// notDone turns what was prepared into waste.
func notDone(t *Treatment, why string) []inventory.Event {
	var evs []inventory.Event
	for _, u := range slices.Backward(t.Uses) {
		if u.Struck != 0 {
			continue
		}
		evs = append(evs, &inventory.Corrected{Corrects: u.Entry, Reason: "treatment not done: " + why})
		if u.Quantity > 0 {
			evs = append(evs, &inventory.Wasted{
				Stock: inventory.Stock{Product: u.Product, Lot: u.Lot, Expires: u.Expires, Serial: u.Serial, Quantity: u.Quantity},
				From:  u.Location, Cause: "prepared, treatment not done: " + why, Treatment: string(t.ID),
			})
		}
	}
	return evs
}

func (b *Book) openTreatment(r inventory.Reader, id TreatmentID) (*Treatment, error) {
	t, err := TreatmentByID(r, id)
	if err != nil {
		return nil, err
	}
	if t.Struck != 0 {
		return nil, inventory.Conflict("treatment_struck_out", "Open the treatment that took place.", "treatment %s was struck out by entry %d", id, t.Struck)
	}
	if t.Closed {
		return nil, inventory.Conflict("treatment_closed", "Strike out its closing first, if it was wrong.", "treatment %s is closed", id)
	}
	return t, nil
}
