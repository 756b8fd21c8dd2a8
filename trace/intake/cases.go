package intake

import "lotbook/trace"

// Cases are treatments with a reaction, or those to compare them with. They are
// part of a question and never recorded, so that they are none of [Forms].
var Cases = List[trace.Case]{
	Form: Form{Name: "cases", Title: "Cases", Columns: []Column{
		{Name: "treatment", Label: true, What: "The treatment's number. Where it isn't known, the problem or the patient must be given.", Example: "EXAMPLE-T1"},
		{Name: "problem", Label: true, What: "The number of the problem that was recorded of it, instead."},
		{Name: "patient", Label: true, What: "The patient's number."},
		{Name: "at", What: "When the reaction was, as 2027-03-31 09:30 in the unit's time zone, if anybody knows.", Example: "2027-03-31 09:30"},
	}},
	read: func(r *reader) trace.Case {
		c := trace.Case{Problem: trace.ProblemID(r.text("problem")), Treatment: trace.TreatmentID(r.text("treatment")), Patient: trace.PatientID(r.text("patient")), At: r.instant("at")}
		if c.Treatment == "" && c.Patient == "" && c.Problem == "" {
			r.fail("treatment", "Give a treatment, a problem or a patient.", "it names neither a treatment nor a patient")
		}
		return c
	},
}
