package v1

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"lotbook/trace"
)

type patientPage struct {
	Patients []patient `json:"patients"`
	Next     string    `json:"next,omitempty"`
}

// listPatients answers GET /v1/patients.
func (a *API) listPatients(c *gin.Context) error {
	page, next, err := listOf(a, c, trace.Patients, patientOf, func(p *patient) string { return p.ID })
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, patientPage{page, next})
}
