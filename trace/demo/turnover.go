package demo

import (
	"fmt"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// Patients come and go: with Options.Turnover some leave, for a stay in hospital
// or for good, and others take the places that are left. The schedule is changed
// on the day when it is known, as it is in a real unit. Shares and lengths are
// plausible inventions (common practice, no source).

// away reports whether a patient is not treated on a day.
func (p *patient) away(date inventory.Date) bool {
	return date < p.since || (p.gone != "" && date >= p.gone && date < p.back)
}

// never is later than any day.
const never inventory.Date = "9999-12-31"

// turnover decides in the morning of a day who leaves.
func (w *world) turnover(date inventory.Date) error {
	if w.o.Turnover == 0 {
		return nil
	}
	for _, p := range w.patients {
		if p.away(date) || p.gone > date || !w.chance(w.o.Turnover/7) {
			continue
		}
		p.gone, p.back = date, date.AddDays(w.between(5, 28))
		if w.chance(.35) {
			p.back = never
			w.admitLater(p, date.AddDays(w.between(2, 18)))
		}
		if err := w.reschedule(p, date, ""); err != nil {
			return err
		}
	}
	return nil
}

// reschedule sets or clears a patient's treatments in the days that are planned
// already.
func (w *world) reschedule(p *patient, date inventory.Date, id trace.PatientID) error {
	var slots []trace.Slot
	for i := range 7 {
		d := date.AddDays(i)
		pattern, ok := w.pattern(d)
		if ok && pattern == p.pattern && (id != "" || d < p.back) && d < inventory.DateOf(w.o.Until, w.zone) {
			slots = append(slots, trace.Slot{Shift: inventory.Shift{Date: d, Number: p.shift}, Station: p.station.id, Patient: id})
		}
	}
	if len(slots) == 0 {
		return nil
	}
	_, err := w.book.Schedule(w.ctx, w.by(nurse(0, 0, 0)), slots...)
	return err
}

// admitLater has a new patient take the place of one who left for good.
func (w *world) admitLater(old *patient, date inventory.Date) {
	w.plan(clockTime(date, 9, 0, w.zone), func() error {
		if w.now.Before(clockTime(date, 9, 0, w.zone)) {
			return nil // the history ends before
		}
		n := len(w.patients)
		p := &patient{
			id:   trace.PatientID(fmt.Sprintf("P%04d", 1001+n)),
			name: givenNames[n%len(givenNames)] + " " + familyNames[(n/len(givenNames))%len(familyNames)] + " " + fmt.Sprint(n),
			rx:   w.prescribe(), pattern: old.pattern, shift: old.shift, station: old.station, since: date.AddDays(1),
		}
		w.patients = append(w.patients, p)
		admin := w.by(administrator)
		if _, err := w.book.SetPatient(w.ctx, admin, trace.PatientSet{ID: p.id, Name: p.name}); err != nil {
			return err
		}
		if _, err := w.book.SetPrescription(w.ctx, w.by(nurse(0, 0, 0)), trace.PrescriptionSet{Patient: p.id, Prescription: p.rx}); err != nil {
			return err
		}
		return w.reschedule(p, p.since, p.id)
	})
}

// A Watch is called each morning of the history at 06:00, before anybody is
// treated, with the unit as it is then: what is worked out in it knows nothing
// of what comes.
type Watch func(date inventory.Date) error

func (w *world) planWatch(date inventory.Date) {
	if w.watch != nil {
		w.plan(clockTime(date, 0, 0, w.zone).Add(5*time.Hour+50*time.Minute), func() error { return w.watch(date) })
	}
}
