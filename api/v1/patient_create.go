package v1

import (
	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/trace"
)

// patientRequest adds a patient or renames one; a prescription that comes along
// holds from then on.
type patientRequest struct {
	happened
	patient
}

type patientWritten struct {
	written
	Patient patient `json:"patient"`
}

// createPatient answers POST /v1/patients.
func (a *API) createPatient(c *gin.Context) error {
	var req patientRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.Enrol(c.Request.Context(), call, trace.Enrolment{
		PatientSet:   trace.PatientSet{ID: trace.PatientID(req.ID), Name: req.Name},
		Prescription: req.Prescription.domain(),
	})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		out := patientWritten{written: w}
		for _, ev := range evs {
			switch v := ev.(type) {
			case *trace.PatientSet:
				out.Patient.ID, out.Patient.Name = string(v.ID), v.Name
			case *trace.PrescriptionSet:
				out.Patient.Prescription = prescriptionOf(&v.Prescription)
			default:
				return nil, errOtherEntry
			}
		}
		return out, nil
	})
}

// prescriptionRequest is a patient's prescription from now on.
type prescriptionRequest struct {
	happened
	prescription
}

type prescriptionWritten struct {
	written
	Patient      string        `json:"patient"`
	Prescription *prescription `json:"prescription"`
}

// createPrescription answers POST /v1/patients/:id/prescriptions.
func (a *API) createPrescription(c *gin.Context) error {
	var req prescriptionRequest
	call, id, err := writeOf(c, &req, &req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.SetPrescription(c.Request.Context(), call, trace.PrescriptionSet{
		Patient: trace.PatientID(id), Prescription: *req.domain(),
	})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*trace.PrescriptionSet](evs)
		if err != nil {
			return nil, err
		}
		return prescriptionWritten{w, string(ev.Patient), prescriptionOf(&ev.Prescription)}, nil
	})
}
