package v1

import (
	"lotbook/inventory"
	"lotbook/trace"
)

// prescription is what a treatment should be.
type prescription struct {
	Products      map[string]string `json:"products,omitempty"`
	Potassium     int64             `json:"potassium_umol_per_l,omitempty"`
	Calcium       int64             `json:"calcium_umol_per_l,omitempty"`
	IonsKnown     bool              `json:"ions_known,omitempty"`
	MixSystem     string            `json:"mix_system,omitempty"`
	Access        string            `json:"access"`
	SingleNeedle  bool              `json:"single_needle,omitempty"`
	Minutes       int64             `json:"minutes"`
	BloodFlow     int64             `json:"blood_flow_ml_per_min,omitempty"`
	DialysateFlow int64             `json:"dialysate_flow_ml_per_min,omitempty"`
	FlowFactor    int64             `json:"flow_factor_thousandths,omitempty"`
	Heparin       *heparin          `json:"heparin,omitempty"`
}

type heparin struct {
	Bolus     int64 `json:"bolus_units"`
	Rate      int64 `json:"units_per_hour"`
	StopEarly int64 `json:"stop_early_minutes"`
}

func prescriptionOf(p *inventory.Prescription) *prescription {
	if p == nil {
		return nil
	}
	out := &prescription{
		Potassium: p.Potassium, Calcium: p.Calcium, IonsKnown: p.IonsKnown, MixSystem: string(p.MixSystem), Access: string(p.Access),
		SingleNeedle: p.SingleNeedle, Minutes: p.Minutes, BloodFlow: p.BloodFlow, DialysateFlow: p.DialysateFlow, FlowFactor: p.FlowFactor,
	}
	for c, id := range p.Products {
		if out.Products == nil {
			out.Products = map[string]string{}
		}
		out.Products[string(c)] = string(id)
	}
	if p.Heparin != nil {
		h := heparin(*p.Heparin)
		out.Heparin = &h
	}
	return out
}

func (p *prescription) domain() *inventory.Prescription {
	if p == nil {
		return nil
	}
	out := &inventory.Prescription{
		Products:  categoriesTo(p.Products),
		Potassium: p.Potassium, Calcium: p.Calcium, IonsKnown: p.IonsKnown, MixSystem: inventory.MixSystem(p.MixSystem), Access: inventory.Access(p.Access),
		SingleNeedle: p.SingleNeedle, Minutes: p.Minutes, BloodFlow: p.BloodFlow, DialysateFlow: p.DialysateFlow, FlowFactor: p.FlowFactor,
	}
	if p.Heparin != nil {
		h := inventory.HeparinDose(*p.Heparin)
		out.Heparin = &h
	}
	return out
}

type patient struct {
	ID           string        `json:"id"`
	Name         string        `json:"name"`
	Prescription *prescription `json:"prescription,omitempty"`
}

func patientOf(p trace.Patient) patient {
	return patient{string(p.ID), p.Name, prescriptionOf(p.Prescription)}
}
