package trace

import (
	"strings"

	"lotbook/inventory"
)

// A DraftField is one field that a report asks for: its value with where that
// comes from, or that it is not recorded. Nothing in it is guessed.
type DraftField struct {
	// Rule is the paragraph of 21 CFR 803.32 that asks for it.
	Rule  string `json:"rule"`
	Key   string `json:"field"`
	Label string `json:"label"`
	// Recorded tells whether there is a value.
	Recorded bool   `json:"recorded"`
	Value    string `json:"value,omitempty"`
	// Source says where the value comes from, Hint what else is on record that
	// may help to find it, or what to mind.
	Source string `json:"source,omitempty"`
	Hint   string `json:"hint,omitempty"`
}

// A fieldSpec is a field of a report.
type fieldSpec struct {
	rule, key, label string
	// given: a person may say it with a problem, as a detail; facility: the
	// unit may set it once for all reports.
	given, facility bool
	hint            string
	fill            func(*drafter) (value, source string, err error)
}

// fieldSpecs are the fields that 21 CFR 803.32 asks a user facility for, in its
// order. Paragraphs (a) to (c)(10) were compared with the text in force in June
// 2026; the wording of (c)(11), (d) and (e) is from memory.
func fieldSpecs() []fieldSpec {
	return []fieldSpec{
		{rule: "(a)(1)", key: "patient_code", label: "Patient name or other identifier", given: true, fill: (*drafter).patientCode, hint: "A code, so that the name stays in the unit: the problem's number finds the patient here"},
		{rule: "(a)(2)", key: "patient_age", label: "Age at the time of the event, or date of birth", given: true},
		{rule: "(a)(3)", key: "patient_sex", label: "Sex", given: true},
		{rule: "(a)(4)", key: "patient_weight", label: "Weight", given: true},
		{rule: "(b)(1)", key: "event", label: "Adverse event or product problem", fill: (*drafter).event, hint: "As it was recorded; whether it is an adverse event is for a person to say"},
		{rule: "(b)(2)", key: "outcomes", label: "Outcomes attributed to the event", fill: (*drafter).outcomes, hint: "As it was recorded; whether it counts as a serious injury is for a person to say"},
		{rule: "(b)(3)", key: "event_date", label: "Date of event", fill: (*drafter).eventDate},
		{rule: "(b)(4)", key: "report_date", label: "Date of this report", given: true, hint: "The day on which the report is written"},
		{rule: "(b)(5)", key: "narrative", label: "Description of the event or problem", fill: (*drafter).narrative, hint: "Words as they were recorded: read them for names before they leave the unit"},
		{rule: "(b)(6)", key: "tests", label: "Relevant tests, with dates and laboratory data", given: true},
		{rule: "(b)(7)", key: "history", label: "Other relevant history, including preexisting conditions", given: true},
		{rule: "(c)(1)", key: "brand", label: "Brand name", given: true},
		{rule: "(c)(2)", key: "product_code", label: "Product code", given: true},
		{rule: "(c)(2)", key: "common_name", label: "Common device name", given: true, fill: (*drafter).commonName},
		{rule: "(c)(3)", key: "maker", label: "Manufacturer name, city and state", given: true, fill: (*drafter).maker},
		{rule: "(c)(4)", key: "model", label: "Model number", given: true},
		{rule: "(c)(4)", key: "catalogue_number", label: "Catalog number", given: true},
		{rule: "(c)(4)", key: "serial", label: "Serial number", fill: (*drafter).serial},
		{rule: "(c)(4)", key: "lot", label: "Lot number", fill: (*drafter).lot},
		{rule: "(c)(4)", key: "other_number", label: "Other identifying number", given: true, fill: (*drafter).gtin},
		{rule: "(c)(4)", key: "expires", label: "Expiration date", fill: (*drafter).expires},
		{rule: "(c)(4)", key: "udi", label: "Unique device identifier (UDI)", given: true, fill: (*drafter).udi, hint: "As it was scanned; compare with the label"},
		{rule: "(c)(5)", key: "operator", label: "Operator of the device", given: true, hint: "Health professional, lay user or patient, other"},
		{rule: "(c)(6)", key: "implanted", label: "Date of implantation, if applicable", given: true},
		{rule: "(c)(7)", key: "explanted", label: "Date of explantation, if applicable", given: true},
		{rule: "(c)(8)", key: "reprocessed", label: "Single-use device that was reprocessed and reused", given: true},
		{rule: "(c)(9)", key: "reprocessor", label: "Name and address of the reprocessor", given: true},
		{rule: "(c)(10)", key: "available", label: "Device available for evaluation, or returned to the manufacturer", fill: (*drafter).available},
		{rule: "(c)(10)", key: "returned_on", label: "Date of return to the manufacturer", given: true},
		{rule: "(c)(11)", key: "other_products", label: "Other products in use at that time", given: true, fill: (*drafter).others, hint: "Not those used to treat the event"},
		{rule: "(d)(1)", key: "reporter", label: "Initial reporter: name", given: true, fill: (*drafter).reporter},
		{rule: "(d)(1)", key: "reporter_contact", label: "Initial reporter: address and telephone", given: true},
		{rule: "(d)(2)", key: "reporter_professional", label: "Initial reporter is a health professional", given: true},
		{rule: "(d)(3)", key: "reporter_occupation", label: "Initial reporter: occupation", given: true},
		{rule: "(d)(4)", key: "reporter_copied_fda", label: "Initial reporter also sent a copy to FDA", given: true},
		{rule: "(e)(1)", key: "user_facility", label: "User facility report", fill: (*drafter).userFacility},
		{rule: "(e)(2)", key: "facility_number", label: "User facility number", facility: true, given: true},
		{rule: "(e)(3)", key: "facility_address", label: "Facility name and address", facility: true, given: true, fill: (*drafter).facility},
		{rule: "(e)(4)", key: "contact", label: "Contact person", facility: true, given: true},
		{rule: "(e)(5)", key: "contact_phone", label: "Contact person's telephone", facility: true, given: true},
		{rule: "(e)(6)", key: "aware", label: "Date when the facility became aware of the event", given: true, hint: "The days for reporting count from it"},
		{rule: "(e)(7)", key: "report_type", label: "Initial report or follow-up", given: true, hint: "A follow-up names the number of the first report"},
		{rule: "(e)(8)", key: "facility_report_date", label: "Date of the facility's report", given: true},
		{rule: "(e)(9)", key: "device_age", label: "Approximate age of the device", given: true},
		{rule: "(e)(10)", key: "patient_problem_code", label: "Event problem code: patient", given: true},
		{rule: "(e)(10)", key: "device_problem_code", label: "Event problem code: device", given: true},
		{rule: "(e)(11)", key: "sent_fda", label: "Sent to FDA, and when", given: true},
		{rule: "(e)(12)", key: "place", label: "Location where the event occurred", given: true, fill: (*drafter).place},
		{rule: "(e)(13)", key: "sent_maker", label: "Sent to the manufacturer, and when", given: true},
		{rule: "(e)(14)", key: "maker_address", label: "Manufacturer name and address", given: true},
	}
}

// A DraftBlock is fields of a report that stand under one title: the blocks of
// the form that the regulation names.
type DraftBlock struct{ Title, Rule string }

// DraftBlocks returns them in the order of the regulation.
func DraftBlocks() []DraftBlock {
	return []DraftBlock{
		{"Patient (block A)", draftRule + "(a)"},
		{"Adverse event or product problem (block B)", draftRule + "(b)"},
		{"Device (block D)", draftRule + "(c)"},
		{"Initial reporter (block E)", draftRule + "(d)"},
		{"User facility (block F)", draftRule + "(e)"},
	}
}

// A Detail is a field of a report that a person may give with a problem.
type Detail struct {
	Key   string `json:"field"`
	Label string `json:"label"`
	Rule  string `json:"rule"`
	// Facility: the unit may set it once for all reports.
	Facility bool `json:"facility"`
}

// ProblemDetails returns the fields of a report that a person may give, in the
// order of the report.
func ProblemDetails() (list []Detail) {
	for _, s := range fieldSpecs() {
		if s.given {
			list = append(list, Detail{s.key, s.label, draftRule + s.rule, s.facility})
		}
	}
	return list
}

const draftRule = "21 CFR 803.32"

// checkDetails refuses keys that are none, and texts that can't be recorded.
func checkDetails(member string, details map[string]string) error {
	var keys []string
	known := map[string]bool{}
	for _, d := range ProblemDetails() {
		if member != "facility" || d.Facility {
			known[d.Key] = true
			keys = append(keys, d.Key)
		}
	}
	for key, text := range details {
		switch {
		case !known[key]:
			return inventory.Invalid(member, "Use one of "+strings.Join(keys, ", ")+".", "there is no field %q to give", key)
		case strings.TrimSpace(text) == "":
			return inventory.Invalid(member, "Leave it out, or strike out the entry that gave it.", "the field %q is empty", key)
		}
		if err := checkTexts(mostProblemText, map[string]string{key: text}); err != nil {
			return err
		}
	}
	return nil
}
