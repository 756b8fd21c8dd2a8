package inventory

// An Access is how a patient's blood is reached.
type Access string

// The accesses.
const (
	Fistula  Access = "fistula"
	Graft    Access = "graft"
	Catheter Access = "catheter"
)

// A Prescription is what a treatment should be. The tool compares with it and
// works out what is used; it does not judge it.
type Prescription struct {
	// Products names the product prescribed of a category, such as the
	// dialyzer. A category that is absent takes the unit's default.
	Products map[Category]ProductID `json:"products,omitempty"`
	// Potassium and Calcium of the dialysate in micromoles per litre, and
	// the mix system, are what an acid concentrate is compared with. When
	// IonsKnown is false they are taken from the product prescribed.
	Potassium int64     `json:"potassium_umol_per_l,omitempty"`
	Calcium   int64     `json:"calcium_umol_per_l,omitempty"`
	IonsKnown bool      `json:"ions_known,omitempty"`
	MixSystem MixSystem `json:"mix_system,omitempty"`

	Access       Access `json:"access"`
	SingleNeedle bool   `json:"single_needle,omitempty"`
	// Minutes is the planned length.
	Minutes int64 `json:"minutes"`
	// BloodFlow in mL/min.
	BloodFlow int64 `json:"blood_flow_ml_per_min,omitempty"`
	// DialysateFlow in mL/min; 0 when it follows the blood flow by
	// FlowFactor, in thousandths: 1800 is 1.8.
	DialysateFlow int64        `json:"dialysate_flow_ml_per_min,omitempty"`
	FlowFactor    int64        `json:"flow_factor_thousandths,omitempty"`
	Heparin       *HeparinDose `json:"heparin,omitempty"`
}

// A HeparinDose is a bolus and a rate that stops before the end.
type HeparinDose struct {
	Bolus     int64 `json:"bolus_units"`
	Rate      int64 `json:"units_per_hour"`
	StopEarly int64 `json:"stop_early_minutes"`
}

// Units returns the heparin units of a treatment of so many minutes:
// bolus + rate × (hours − stopped early), rounded up.
func (h *HeparinDose) Units(minutes int64) int64 {
	return h.Bolus + ceilDivide(h.Rate*max(0, minutes-h.StopEarly), 60)
}

// Flow returns the dialysate flow in mL/min.
func (p *Prescription) Flow() int64 {
	if p.DialysateFlow != 0 {
		return p.DialysateFlow
	}
	return divide(p.BloodFlow*p.FlowFactor, 1000)
}

// Check says whether a prescription can be recorded. It does not say whether
// it is right for anyone.
func (p *Prescription) Check() error {
	switch {
	case p.Access != Fistula && p.Access != Graft && p.Access != Catheter:
		return Invalid("access", "Use fistula, graft or catheter.", "there is no access %q", p.Access)
	case p.Minutes < 1 || p.Minutes > 24*60:
		return Invalid("minutes", "Give the planned length in minutes, such as 240.", "a length of %d minutes", p.Minutes)
	case p.BloodFlow < 0 || p.BloodFlow > 2000 || p.DialysateFlow < 0 || p.DialysateFlow > 5000 || p.FlowFactor < 0 || p.FlowFactor > 10000:
		return Invalid("dialysate_flow_ml_per_min", "Give flows in mL/min and the factor in thousandths.", "a flow is out of range")
	case p.DialysateFlow == 0 && (p.FlowFactor == 0 || p.BloodFlow == 0):
		return Invalid("dialysate_flow_ml_per_min", "Give the dialysate flow, or the blood flow and a factor.", "there is no dialysate flow")
	case p.MixSystem != "" && !p.MixSystem.Known():
		return Invalid("mix_system", "Use 35X, 36.83X or 45X.", "there is no mix system %q", p.MixSystem)
	case p.Potassium < 0 || p.Calcium < 0:
		return Invalid("potassium_umol_per_l", "Give micromoles per litre: 2.0 mmol/L is 2000.", "a concentration is below zero")
	}
	if h := p.Heparin; h != nil && (h.Bolus < 0 || h.Rate < 0 || h.StopEarly < 0 || h.Bolus > 1e6 || h.Rate > 1e6) {
		return Invalid("heparin", "Give units, units per hour and minutes.", "a heparin dose is out of range")
	}
	for c := range p.Products {
		if !c.Known() {
			return Invalid("products", "Use one of: "+joinCategories()+".", "there is no category %q", c)
		}
	}
	return nil
}
