package intake

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// Forms returns the lists in the order in which an empty unit takes them.
func Forms() []*Form {
	return []*Form{&Products.Form, &Patients.Form, &Prescriptions.Form, &Schedule.Form, &Receipts.Form, &Counts.Form, &Ordering.Form}
}

// Templates returns the forms that can be had empty, to be filled in.
func Templates() []*Form { return append(Forms(), &NoticeLines.Form) }

// FormOf returns the form of a list's name, nil if there is none.
func FormOf(name string) *Form {
	for _, f := range Forms() {
		if f.Name == name {
			return f
		}
	}
	return nil
}

// Products is a catalogue.
var Products = List[inventory.Product]{Form: productForm, read: readProduct}

var productForm = Form{Name: "products", Title: "Products", Columns: []Column{
	{Name: "id", Required: true, Label: true, What: "The unit's own code or the maker's reference. A row with the id of a product that is there changes it.", Example: "EXAMPLE-DLZ-18"},
	{Name: "name", Required: true, What: "The name that people at the chair use.", Example: "Dialyzer 1.8 m²"},
	{Name: "category", Required: true, What: "One of: " + categories() + ".", Example: "dialyzer"},
	{Name: "maker", What: "Who makes it.", Example: "Invented Maker"},
	{Name: "each_gtin", Label: true, What: "GTIN of the single piece, 8, 12, 13 or 14 digits.", Example: "09506000100012"},
	{Name: "each_code", Label: true, What: "Where another agency than GS1 numbers it: hibc:A99912345, or iccbba: and 16 characters."},
	{Name: "inner_gtin", Label: true, What: "GTIN of the inner pack.", Example: "19506000100019"},
	{Name: "inner_code", Label: true, What: "The inner pack's number of another agency."},
	{Name: "inner_holds", What: "Pieces in an inner pack.", Example: "6"},
	{Name: "case_gtin", Label: true, What: "GTIN of the case.", Example: "29506000100016"},
	{Name: "case_code", Label: true, What: "The case's number of another agency."},
	{Name: "case_holds", What: "Pieces (not inner packs) in a case.", Example: "24"},
	{Name: "further_packs", Label: true, What: "More packs: level, pieces and number of each, with semicolons between: case 48 39506000100013; inner 10."},
	{Name: "potassium_mmol_l", What: "Of the dialysate that a concentrate makes, in mmol/L; with calcium or not at all. 0 is none."},
	{Name: "calcium_mmol_l", What: "The same of calcium. 2.5 mEq/L are 1.25 mmol/L."},
	{Name: "mix_system", What: "35X, 36.83X or 45X."},
	{Name: "fill_volume_ml", What: "Content of one piece in mL."},
	{Name: "units_per_ml", What: "Strength of heparin."},
	{Name: "shared", What: "yes where one piece serves several treatments."},
	{Name: "short_dated_days", What: "From how many days before its expiry a lot is short dated, if not as the unit has it."},
}}

func categories() string {
	var names []string
	for _, c := range inventory.Categories() {
		names = append(names, string(c))
	}
	return strings.Join(names, " ")
}

func readProduct(r *reader) inventory.Product {
	p := inventory.Product{
		ID: inventory.ProductID(r.text("id")), Name: r.text("name"), Category: inventory.Category(r.text("category")), Maker: r.text("maker"),
		Facts: inventory.Facts{
			MixSystem: inventory.MixSystem(r.text("mix_system")), FillVolume: r.number("fill_volume_ml"), UnitsPerML: r.number("units_per_ml"),
			Shared: r.flag("shared"), ShortDatedDays: int(r.number("short_dated_days")),
		},
	}
	p.Facts.Potassium, p.Facts.Calcium, p.Facts.IonsKnown = r.ions()
	if !p.Category.Known() && p.Category != "" {
		r.fail("category", "Use one of the categories that the README lists, such as dialyzer.", "there is no category %q", p.Category)
	}
	for _, level := range []string{inventory.LevelEach, inventory.LevelInner, inventory.LevelCase} {
		k := inventory.Pack{Level: level, GTIN: r.gtin(level + "_gtin"), Code: r.text(level + "_code"), Holds: 1}
		numbered := k.GTIN != "" || k.Code != ""
		if k.Code != "" && !inventory.ValidCode(k.Code) {
			r.fail(level+"_code", "Write hibc: or iccbba: and the device identifier in capitals, without check character.", "%q is no code of a pack", k.Code)
		}
		if level != inventory.LevelEach {
			k.Holds = r.number(level + "_holds")
			if numbered != (k.Holds != 0) {
				r.fail(level+"_holds", "Give the GTIN or the code of the pack and how many pieces it holds, or neither.", "one of the two is missing")
			}
		}
		if numbered {
			p.Packs = append(p.Packs, k)
		}
	}
	p.Packs = append(p.Packs, r.furtherPacks("further_packs")...)
	return p
}

// furtherPacks reads packs beyond the first of each level.
func (r *reader) furtherPacks(column string) []inventory.Pack {
	var packs []inventory.Pack
	for part := range strings.SplitSeq(r.text(column), ";") {
		f := strings.Fields(part)
		if len(f) == 0 {
			continue
		}
		const hint = "Write level, pieces and number of each pack, with semicolons between: case 48 39506000100013; inner 10."
		if len(f) < 2 || len(f) > 3 {
			r.fail(column, hint, "%q is no pack", strings.TrimSpace(part))
			continue
		}
		holds, err := strconv.ParseInt(f[1], 10, 64)
		if err != nil {
			r.fail(column, hint, "%q is no number of pieces", f[1])
			continue
		}
		k := inventory.Pack{Level: f[0], Holds: holds}
		if len(f) == 3 {
			if inventory.ValidCode(f[2]) {
				k.Code = f[2]
			} else {
				k.GTIN = f[2]
			}
		}
		packs = append(packs, k)
	}
	return packs
}

// FurtherPacks writes what furtherPacks reads.
func FurtherPacks(packs []inventory.Pack) string {
	var parts []string
	for _, k := range packs {
		parts = append(parts, strings.TrimSpace(k.Level+" "+strconv.FormatInt(k.Holds, 10)+" "+k.GTIN+k.Code))
	}
	return strings.Join(parts, "; ")
}

// ions reads potassium and calcium, both or neither.
func (r *reader) ions() (k, ca int64, known bool) {
	k, hasK := r.thousandths("potassium_mmol_l")
	ca, hasCa := r.thousandths("calcium_mmol_l")
	if hasK != hasCa {
		r.fail("calcium_mmol_l", "Give potassium and calcium in mmol/L, 0 for none; calcium of 2.5 mEq/L is 1.25 mmol/L.", "one of the two is missing")
	}
	return k, ca, hasK && hasCa
}

// Patients are patients, with a prescription where access is given.
var Patients = List[trace.Enrolment]{
	Form: Form{Name: "patients", Title: "Patients", Columns: slices.Concat([]Column{
		{Name: "id", Required: true, Label: true, What: "The unit's own number for the patient.", Example: "EXAMPLE-P1"},
		{Name: "name", Required: true, What: "The patient's name.", Example: "Invented Person"},
		{Name: "access", What: "fistula, graft or catheter. Empty: no prescription comes along, and the other columns stay empty.", Example: "fistula"},
	}, prescriptionColumns)},
	read: func(r *reader) trace.Enrolment {
		e := trace.Enrolment{PatientSet: trace.PatientSet{ID: trace.PatientID(r.text("id")), Name: r.text("name")}}
		if r.text("access") != "" {
			e.Prescription = r.prescription()
		}
		return e
	},
}

// Prescriptions are prescriptions of patients that are there.
var Prescriptions = List[trace.PrescriptionSet]{
	Form: Form{Name: "prescriptions", Title: "Prescriptions", Columns: slices.Concat([]Column{
		{Name: "patient", Required: true, Label: true, What: "The number of a patient who is there.", Example: "EXAMPLE-P1"},
		{Name: "access", Required: true, What: "fistula, graft or catheter.", Example: "fistula"},
	}, prescriptionColumns)},
	read: func(r *reader) trace.PrescriptionSet {
		return trace.PrescriptionSet{Patient: trace.PatientID(r.text("patient")), Prescription: *r.prescription()}
	},
}

var prescriptionColumns = []Column{
	{Name: "single_needle", What: "yes or no."},
	{Name: "minutes", What: "Planned length.", Example: "240"},
	{Name: "blood_flow_ml_min", What: "Blood flow in mL/min.", Example: "300"},
	{Name: "dialysate_flow_ml_min", What: "Dialysate flow in mL/min; empty where it follows the blood flow.", Example: "500"},
	{Name: "flow_factor", What: "Dialysate flow as a multiple of the blood flow, such as 1.5; empty where it is fixed."},
	{Name: "dialyzer", Label: true, What: "Product of the catalogue; empty: the unit's default."},
	{Name: "bloodline_set", Label: true, What: "The same of the bloodline set."},
	{Name: "acid_concentrate", Label: true, What: "The same of the acid concentrate."},
	{Name: "bicarbonate", Label: true, What: "The same of bicarbonate."},
	{Name: "further_products", What: "Prescribed products of other categories, with semicolons between: saline SAL-1; heparin HEP-5."},
	{Name: "potassium_mmol_l", What: "Of the dialysate, in mmol/L; with calcium or not at all."},
	{Name: "calcium_mmol_l", What: "The same of calcium."},
	{Name: "mix_system", What: "35X, 36.83X or 45X."},
	{Name: "heparin_bolus_units", What: "Heparin at the start, in units.", Example: "2000"},
	{Name: "heparin_units_per_hour", What: "Heparin in units per hour.", Example: "1000"},
	{Name: "heparin_stop_early_min", What: "How many minutes before the end it stops.", Example: "60"},
}

// prescribed are the categories that have a column of their own.
var prescribed = []inventory.Category{inventory.Dialyzer, inventory.BloodlineSet, inventory.AcidConcentrate, inventory.Bicarbonate}

func (r *reader) prescription() *inventory.Prescription {
	p := &inventory.Prescription{
		Access: inventory.Access(r.text("access")), SingleNeedle: r.flag("single_needle"), Minutes: r.number("minutes"),
		BloodFlow: r.number("blood_flow_ml_min"), DialysateFlow: r.number("dialysate_flow_ml_min"), MixSystem: inventory.MixSystem(r.text("mix_system")),
	}
	p.FlowFactor, _ = r.thousandths("flow_factor")
	p.Potassium, p.Calcium, p.IonsKnown = r.ions()
	take := func(c inventory.Category, id string) {
		if p.Products == nil {
			p.Products = map[inventory.Category]inventory.ProductID{}
		}
		p.Products[c] = inventory.ProductID(id)
	}
	for _, c := range prescribed {
		if id := r.text(string(c)); id != "" {
			take(c, id)
		}
	}
	for part := range strings.SplitSeq(r.text("further_products"), ";") {
		part = strings.TrimSpace(part)
		category, id, ok := strings.Cut(part, " ")
		switch {
		case part == "":
		case !ok || !inventory.Category(category).Known():
			r.fail("further_products", "Write category and product of each, with semicolons between: saline SAL-1; heparin HEP-5.", "%q is no product of a category", part)
		default:
			take(inventory.Category(category), strings.TrimSpace(id))
		}
	}
	h := inventory.HeparinDose{Bolus: r.number("heparin_bolus_units"), Rate: r.number("heparin_units_per_hour"), StopEarly: r.number("heparin_stop_early_min")}
	if h != (inventory.HeparinDose{}) {
		p.Heparin = &h
	}
	if err := p.Check(); err != nil {
		r.refused(err)
	}
	return p
}

// Schedule is planned treatments.
var Schedule = List[trace.Slot]{
	Form: Form{Name: "schedule", Title: "Schedule", Columns: []Column{
		{Name: "date", Required: true, What: "The day, as 2027-03-31.", Example: "2027-03-31"},
		{Name: "shift", Required: true, What: "The number of the shift.", Example: "1"},
		{Name: "station", Required: true, Label: true, What: "The station's id.", Example: "S01"},
		{Name: "patient", Label: true, What: "The patient's number; empty clears the station.", Example: "EXAMPLE-P1"},
	}},
	read: func(r *reader) trace.Slot {
		return trace.Slot{
			Shift:   inventory.Shift{Date: r.date("date"), Number: int(r.number("shift"))},
			Station: trace.StationID(r.text("station")), Patient: trace.PatientID(r.text("patient")),
		}
	},
}

// Receipts are deliveries, a line each.
var Receipts = List[inventory.ArrivalRow]{
	label: receiptLabel,
	Form: Form{Name: "receipts", Title: "Receipts", Columns: []Column{
		{Name: "received", What: "When it came, as 2027-03-31 09:30 in the unit's time zone; empty: now.", Example: "2027-03-31 09:30"},
		{Name: "gtin", Label: true, What: "GTIN of the pack that came, of any level. Without one the product must be given.", Example: "29506000100016"},
		{Name: "product", Label: true, What: "The product's id, where there is no GTIN."},
		{Name: "lot", Label: true, What: "The lot number exactly as printed.", Example: "EXAMPLE-LOT"},
		{Name: "expires", What: "The last day of use, as 2027-03-31.", Example: "2029-12-31"},
		{Name: "made", What: "The day of production."},
		{Name: "serial", Label: true, What: "The serial number, if the pack has one."},
		{Name: "quantity", What: "Pieces. Give pieces, or packs of the GTIN."},
		{Name: "packs", What: "Packs of the GTIN: 3 cases of 24 are 72 pieces.", Example: "3"},
		{Name: "to", Label: true, What: "The place where it was put; empty only where it was refused.", Example: "room"},
		{Name: "supplier", What: "Who delivered it.", Example: "Invented Supplies"},
		{Name: "order", Label: true, What: "The order's number.", Example: "PO-1"},
		{Name: "delivery", Label: true, What: "The delivery note's number."},
		{Name: "logistic_unit", Label: true, What: "The pallet's SSCC, 18 digits."},
		{Name: "refused", What: "Why it went back at once; empty if it was taken in."},
	}},
	read: func(r *reader) inventory.ArrivalRow {
		v := inventory.ArrivalRow{
			Received: inventory.Received{
				Stock: inventory.Stock{
					Product: inventory.ProductID(r.text("product")), GTIN: r.gtin("gtin"), Lot: r.label("lot"), Expires: r.date("expires"), Made: r.date("made"),
					Serial: r.label("serial"), Quantity: r.number("quantity"), Packs: r.number("packs"),
				},
				To: inventory.LocationID(r.text("to")), Supplier: r.text("supplier"), Order: r.text("order"),
				Papers: inventory.Papers{Delivery: r.text("delivery"), Unit: r.label("logistic_unit")},
			},
			Refused: r.text("refused"), At: r.instant("received"),
		}
		if v.Product == "" && v.GTIN == "" {
			r.fail("gtin", "Give the GTIN of the pack or the product's id.", "there is no product")
		}
		if v.Quantity == 0 && v.Packs == 0 && len(r.problems) == 0 {
			r.fail("quantity", "Give the pieces, or the packs of the GTIN.", "there is no quantity")
		}
		if v.To == "" && v.Refused == "" {
			r.fail("to", "Name the place where it was put; or, if it went back at once, say why in refused.", "it is empty")
		}
		return v
	},
}

// receiptLabel is the label of a pack with a serial, or of a logistic unit: no
// two are the same.
func receiptLabel(v *inventory.ArrivalRow) (column, label, words string) {
	switch {
	case v.Refused != "":
	case v.Serial != "":
		return "serial", "21" + v.GTIN + string(v.Product) + " " + v.Serial, "serial " + v.Serial
	case v.Unit != "":
		return "logistic_unit", "00" + v.Unit + " " + v.GTIN + string(v.Product) + " " + v.Lot, "SSCC " + v.Unit
	}
	return "", "", ""
}

// A CountRow is a line of a count, with what its lines have in common. Rows that
// follow each other and have that in common are one count.
type CountRow struct {
	CountHead
	// Line has no product where a complete count found nothing at all.
	Line inventory.CountLine
}

// A CountHead is what the lines of a count have in common.
type CountHead struct {
	At       time.Time
	Location inventory.LocationID
	Complete bool
	Shift    inventory.Shift // zero for none
	Cause    string
}

// Counts are counts of places.
var Counts = List[CountRow]{
	Form: Form{Name: "counts", Title: "Counts", Columns: []Column{
		{Name: "counted_at", Required: true, What: "When it was counted, as 2027-03-31 22:15 in the unit's time zone. Rows with the same time and place are one count.", Example: "2027-03-31 22:15"},
		{Name: "location", Required: true, Label: true, What: "The place.", Example: "room"},
		{Name: "complete", What: "yes where the whole place was counted: what is not named was not there.", Example: "yes"},
		{Name: "shift_date", What: "The day of the shift that the count closes, if it closes one."},
		{Name: "shift", What: "The number of that shift."},
		{Name: "count_cause", What: "What is said of the differences as a whole."},
		{Name: "product", Label: true, What: "The product's id; empty in the one row of a complete count that found nothing.", Example: "EXAMPLE-DLZ-18"},
		{Name: "lot", Label: true, What: "The lot number exactly as printed.", Example: "EXAMPLE-LOT"},
		{Name: "expires", What: "The last day of use.", Example: "2029-12-31"},
		{Name: "counted", What: "Pieces that were there.", Example: "71"},
		{Name: "cause", What: "What is said of this line's difference."},
	}},
	read: func(r *reader) CountRow {
		c := CountRow{
			CountHead: CountHead{
				At: r.instant("counted_at"), Location: inventory.LocationID(r.text("location")), Complete: r.flag("complete"),
				Shift: inventory.Shift{Date: r.date("shift_date"), Number: int(r.number("shift"))}, Cause: r.text("count_cause"),
			},
			Line: inventory.CountLine{
				Product: inventory.ProductID(r.text("product")), Lot: r.label("lot"), Expires: r.date("expires"), Counted: r.number("counted"), Cause: r.text("cause"),
			},
		}
		if (c.Shift.Date == "") != (c.Shift.Number == 0) {
			r.fail("shift", "Give the day and the number of the shift, or neither.", "one of the two is missing")
		}
		if c.Line.Product != "" && r.text("counted") == "" {
			r.fail("counted", "Give the pieces that were there, 0 for none.", "it is empty")
		}
		if c.Line.Product == "" && !c.Complete {
			r.fail("product", "Give what was counted.", "it is empty")
		}
		return c
	},
}
