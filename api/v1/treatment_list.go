package v1

import (
	"context"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/inventory"
	"lotbook/trace"
)

type treatmentPage struct {
	Treatments []treatment `json:"treatments"`
	Next       string      `json:"next,omitempty"`
}

// A treatmentPlace is where a page of treatments ended.
type treatmentPlace struct {
	Start time.Time `json:"start"`
	ID    string    `json:"id"`
}

func (p *treatmentPlace) before(t *trace.Treatment) bool {
	if !t.Start.Equal(p.Start) {
		return t.Start.After(p.Start)
	}
	return string(t.ID) > p.ID
}

// listTreatments answers GET /v1/treatments: those that are open, those of a
// patient, or those that started on a date or in a shift of it.
func (a *API) listTreatments(c *gin.Context) error {
	q, err := query(c, "date", "shift", "open", "patient", "limit", "after")
	if err != nil {
		return err
	}
	limit, err := limitOf(q)
	if err != nil {
		return err
	}
	var place treatmentPlace
	begun, err := afterOf(q, &place)
	if err != nil {
		return err
	}
	out := treatmentPage{Treatments: []treatment{}}
	more := false
	err = a.eachTreatment(c.Request.Context(), q, place.Start, func(r inventory.Reader, t *trace.Treatment) error {
		if begun && !place.before(t) {
			return nil
		}
		if len(out.Treatments) == limit {
			more = true
			return inventory.ErrStop
		}
		p, err := trace.PatientByID(r, t.Patient)
		if err != nil {
			return err
		}
		out.Treatments = append(out.Treatments, treatmentOf(t, p.Name))
		return nil
	})
	if err != nil {
		return err
	}
	if more {
		l := out.Treatments[limit-1]
		if out.Next, err = placeOf(treatmentPlace{l.Start, l.ID}); err != nil {
			return err
		}
	}
	return respond(c, http.StatusOK, out)
}

// eachTreatment calls fn for the treatments that a query asks for, by start.
// Those before from may be left out.
func (a *API) eachTreatment(ctx context.Context, q url.Values, from time.Time, fn func(inventory.Reader, *trace.Treatment) error) error {
	open, err := boolOf(q, "open")
	if err != nil {
		return err
	}
	date, patient := inventory.Date(q.Get("date")), trace.PatientID(q.Get("patient"))
	asked := 0
	for _, yes := range []bool{open, date != "", patient != ""} {
		if yes {
			asked++
		}
	}
	if asked != 1 || (q.Has("shift") && date == "") {
		return problem.Bad("parameter_missing", "date", "Give open=true, a patient, or a date such as 2026-11-24 with or without a shift.", "It is not said which treatments to list.")
	}
	return a.Book.View(ctx, func(r inventory.Reader) error {
		each := func(t *trace.Treatment) error { return fn(r, t) }
		switch {
		case open:
			return trace.ScanOpen(r, each)
		case patient != "":
			if _, err := trace.PatientByID(r, patient); err != nil {
				return err
			}
			return trace.ScanPatient(r, patient, each)
		}
		start, end, err := a.window(r, date, q)
		if err != nil {
			return err
		}
		if from.After(start) {
			start = from
		}
		return trace.ScanStarts(r, start, end, each)
	})
}

// window returns the hours of a date's shift, or of all its shifts.
func (a *API) window(r inventory.Reader, date inventory.Date, q url.Values) (from, to time.Time, err error) {
	u, err := a.Book.Unit(r)
	if err != nil {
		return from, to, err
	}
	if q.Has("shift") {
		s, err := shiftFrom(q, "date", "shift")
		if err != nil {
			return from, to, err
		}
		return u.Window(s)
	}
	first := inventory.Shift{Date: date, Number: u.Shifts[0].Number}
	last := inventory.Shift{Date: date, Number: u.Shifts[len(u.Shifts)-1].Number}
	if from, _, err = u.Window(first); err != nil {
		return from, to, err
	}
	_, to, err = u.Window(last)
	return from, to, err
}

// shiftFrom reads the parameters date and shift.
func shiftFrom(q url.Values, dateName, shiftName string) (inventory.Shift, error) {
	date, err := inventory.ParseDate(q.Get(dateName))
	if err != nil {
		return inventory.Shift{}, problem.Bad("wrong_type", dateName, "Give the date as 2026-11-24.", "There is no date %q.", q.Get(dateName))
	}
	n, err := strconv.Atoi(q.Get(shiftName))
	if err != nil {
		return inventory.Shift{}, problem.Bad("wrong_type", shiftName, "Give the shift's number.", "There is no shift %q.", q.Get(shiftName))
	}
	return inventory.Shift{Date: date, Number: n}, nil
}
