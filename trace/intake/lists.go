package intake

import (
	"errors"

	"lotbook/inventory"
	"lotbook/trace"
)

// The columns of each list, in the order of a template.
var (
	ProductColumns = []string{
		"id", "name", "category", "maker", "each_gtin", "each_code", "inner_gtin", "inner_code", "inner_holds", "case_gtin", "case_code", "case_holds",
		"potassium_mmol_l", "calcium_mmol_l", "mix_system", "fill_volume_ml", "units_per_ml", "shared", "short_dated_days",
	}
	PatientColumns = []string{
		"id", "name", "access", "single_needle", "minutes", "blood_flow_ml_min", "dialysate_flow_ml_min", "flow_factor",
		"dialyzer", "bloodline_set", "acid_concentrate", "bicarbonate",
		"potassium_mmol_l", "calcium_mmol_l", "mix_system", "heparin_bolus_units", "heparin_units_per_hour", "heparin_stop_early_min",
	}
	ScheduleColumns = []string{"date", "shift", "station", "patient"}
	ReceiptColumns  = []string{"gtin", "product", "lot", "expires", "quantity", "packs", "to", "supplier", "order"}
)

// Products reads a catalogue.
func Products(t *Table) ([]inventory.Product, []int, []*Problem) {
	return each(t, ProductColumns, []string{"id", "name", "category"}, func(r *reader) inventory.Product {
		p := inventory.Product{
			ID: inventory.ProductID(r.text("id")), Name: r.text("name"), Category: inventory.Category(r.text("category")), Maker: r.text("maker"),
			Facts: inventory.Facts{
				MixSystem: inventory.MixSystem(r.text("mix_system")), FillVolume: r.number("fill_volume_ml"), UnitsPerML: r.number("units_per_ml"),
				Shared: r.flag("shared"), ShortDatedDays: int(r.number("short_dated_days")),
			},
		}
		p.Facts.Potassium, p.Facts.Calcium, p.Facts.IonsKnown = r.ions()
		if !p.Category.Known() {
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
		return p
	})
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

// Patients reads patients, with a prescription where access is given.
func Patients(t *Table) ([]trace.Enrolment, []int, []*Problem) {
	return each(t, PatientColumns, []string{"id", "name"}, func(r *reader) trace.Enrolment {
		e := trace.Enrolment{PatientSet: trace.PatientSet{ID: trace.PatientID(r.text("id")), Name: r.text("name")}}
		if r.text("access") == "" {
			return e
		}
		p := &inventory.Prescription{
			Access: inventory.Access(r.text("access")), SingleNeedle: r.flag("single_needle"), Minutes: r.number("minutes"),
			BloodFlow: r.number("blood_flow_ml_min"), DialysateFlow: r.number("dialysate_flow_ml_min"), MixSystem: inventory.MixSystem(r.text("mix_system")),
		}
		p.FlowFactor, _ = r.thousandths("flow_factor")
		p.Potassium, p.Calcium, p.IonsKnown = r.ions()
		for _, c := range []inventory.Category{inventory.Dialyzer, inventory.BloodlineSet, inventory.AcidConcentrate, inventory.Bicarbonate} {
			if id := r.text(string(c)); id != "" {
				if p.Products == nil {
					p.Products = map[inventory.Category]inventory.ProductID{}
				}
				p.Products[c] = inventory.ProductID(id)
			}
		}
		h := inventory.HeparinDose{Bolus: r.number("heparin_bolus_units"), Rate: r.number("heparin_units_per_hour"), StopEarly: r.number("heparin_stop_early_min")}
		if h.Bolus != 0 || h.Rate != 0 {
			p.Heparin = &h
		}
		if err := p.Check(); err != nil {
			var ref *inventory.Refusal
			if errors.As(err, &ref) {
				r.fail("", ref.Hint, "%s", ref.Message)
			}
		}
		e.Prescription = p
		return e
	})
}

// Schedule reads planned treatments.
func Schedule(t *Table) ([]trace.Slot, []int, []*Problem) {
	return each(t, ScheduleColumns, []string{"date", "shift", "station"}, func(r *reader) trace.Slot {
		return trace.Slot{
			Shift:   inventory.Shift{Date: r.date("date"), Number: int(r.number("shift"))},
			Station: trace.StationID(r.text("station")), Patient: trace.PatientID(r.text("patient")),
		}
	})
}

// Receipts reads deliveries.
func Receipts(t *Table) ([]inventory.Received, []int, []*Problem) {
	return each(t, ReceiptColumns, []string{"to"}, func(r *reader) inventory.Received {
		v := inventory.Received{
			Stock: inventory.Stock{
				Product: inventory.ProductID(r.text("product")), GTIN: r.gtin("gtin"), Lot: r.label("lot"), Expires: r.date("expires"),
				Quantity: r.number("quantity"), Packs: r.number("packs"),
			},
			To: inventory.LocationID(r.text("to")), Supplier: r.text("supplier"), Order: r.text("order"),
		}
		if v.Product == "" && v.GTIN == "" {
			r.fail("gtin", "Give the GTIN of the pack or the product's id.", "there is no product")
		}
		if v.Quantity == 0 && v.Packs == 0 && !r.bad {
			r.fail("quantity", "Give the pieces, or the packs of the GTIN.", "there is no quantity")
		}
		return v
	})
}

// columnOf maps a member that a book refused to the column it came from, where
// they are not called the same.
var columnOf = map[string]string{"location": "to", "product": "product", "packs": "each_gtin"}

// Refused turns what a book refused of a list's rows into Problems; lines are
// those that the rows came from. It returns nil for an error of another kind.
func Refused(t *Table, lines []int, err error) []*Problem {
	var list []*Problem
	add := func(line int, err error) {
		var r *inventory.Refusal
		if errors.As(err, &r) {
			column := r.Field
			if c := columnOf[column]; c != "" {
				column = c
			}
			if _, ok := t.header[column]; !ok {
				column = ""
			}
			list = append(list, &Problem{t.File, line, column, r.Message, r.Hint})
		}
	}
	var joined interface{ Unwrap() []error }
	var one *inventory.LineError
	switch {
	case errors.As(err, &joined):
		for _, e := range joined.Unwrap() {
			if l := (*inventory.LineError)(nil); errors.As(e, &l) && l.Line < len(lines) {
				add(lines[l.Line], l.Err)
			}
		}
	case errors.As(err, &one) && one.Line < len(lines):
		add(lines[one.Line], one.Err)
	case len(lines) == 1:
		add(lines[0], err)
	}
	return list
}
