package v1

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/trace"
)

// viewTreatment reads the treatment that the path names.
func (a *API) viewTreatment(c *gin.Context, fn func(inventory.Reader, *trace.Treatment) error) error {
	if _, err := query(c); err != nil {
		return err
	}
	id, err := param(c, "id")
	if err != nil {
		return err
	}
	return a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		t, err := trace.TreatmentByID(r, trace.TreatmentID(id))
		if err != nil {
			return err
		}
		return fn(r, t)
	})
}

// getTreatment answers GET /v1/treatments/:id.
func (a *API) getTreatment(c *gin.Context) error {
	var out treatment
	err := a.viewTreatment(c, func(r inventory.Reader, t *trace.Treatment) error {
		p, err := trace.PatientByID(r, t.Patient)
		if err != nil {
			return err
		}
		rx, err := a.Book.PrescriptionOf(r, t)
		if err != nil {
			return err
		}
		out = treatmentOf(t, p.Name)
		out.Prescription = prescriptionOf(rx)
		missing, supplied, err := a.Book.Lacks(r, t, a.Book.Now())
		if err != nil {
			return err
		}
		out.Missing = missingOf(missing)
		if out.Supplied, err = suppliesOf(r, supplied); err != nil {
			return err
		}
		for i := range t.Uses {
			u := &t.Uses[i]
			if out.Uses[i].Contents, err = contentsOf(r, inventory.Lot{Product: u.Product, Number: u.Lot}); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}

type expectedAnswer struct {
	Treatment string `json:"treatment"`
	// Minutes is the length that the figures are worked out for: the real
	// one of a closed treatment, the planned one until then.
	Minutes  int64         `json:"minutes"`
	Closed   bool          `json:"closed"`
	Expected []expectation `json:"expected"`
}

// getExpected answers GET /v1/treatments/:id/expected.
func (a *API) getExpected(c *gin.Context) error {
	var out expectedAnswer
	err := a.viewTreatment(c, func(r inventory.Reader, t *trace.Treatment) error {
		xs, err := a.Book.Expected(r, t)
		if err != nil {
			return err
		}
		out = expectedAnswer{string(t.ID), t.Planned, t.Closed, expectationsOf(xs)}
		if t.Closed {
			out.Minutes = t.Minutes
		}
		return nil
	})
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}
