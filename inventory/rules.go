package inventory

// Rules say what a treatment uses. They are the unit's to change; what
// DefaultRules holds is common practice, no source, but for the formulas.
type Rules struct {
	Needs []Need `json:"needs"`
	// PrimeMinutes at PrimeFlow (mL/min) is dialysate made before the
	// patient is connected; it counts toward concentrate.
	PrimeMinutes int64 `json:"prime_minutes"`
	PrimeFlow    int64 `json:"prime_flow_ml_per_min"`
	// Residual is acid concentrate, in mL, that stays in a container and
	// can't be drawn.
	Residual int64 `json:"residual_ml"`
	// BicarbonateParts, in thousandths, replaces the mix system's own part
	// when it is not zero.
	BicarbonateParts int64 `json:"bicarbonate_parts_thousandths,omitempty"`
}

// A Need is what a treatment uses of one category.
type Need struct {
	Category Category `json:"category"`
	By       NeedBy   `json:"by"`
	// Pieces by access, when By is NeedCount.
	Fistula      int64 `json:"fistula"`
	Graft        int64 `json:"graft"`
	Catheter     int64 `json:"catheter"`
	SingleNeedle int64 `json:"single_needle,omitempty"` // replaces Fistula and Graft when not 0
	// Scan is set when each treatment has to have it recorded by lot: it
	// is listed as missing until it is, or until someone says why not.
	Scan bool `json:"scan"`
}

// NeedBy says how a quantity is worked out.
type NeedBy string

// The ways.
const (
	NeedCount       NeedBy = "count"
	NeedAcid        NeedBy = "acid"
	NeedBicarbonate NeedBy = "bicarbonate"
	NeedHeparin     NeedBy = "heparin"
)

// DefaultRules returns the rules that hold until a unit sets its own. Counts
// per treatment and the priming of 15 minutes at 500 mL/min are common
// practice, no source.
func DefaultRules() Rules {
	return Rules{
		PrimeMinutes: 15,
		PrimeFlow:    500,
		Needs: []Need{
			{Category: Dialyzer, By: NeedCount, Fistula: 1, Graft: 1, Catheter: 1, Scan: true},
			{Category: BloodlineSet, By: NeedCount, Fistula: 1, Graft: 1, Catheter: 1, Scan: true},
			{Category: AcidConcentrate, By: NeedAcid, Scan: true},
			{Category: Bicarbonate, By: NeedBicarbonate, Scan: true},
			{Category: Heparin, By: NeedHeparin, Scan: true},
			{Category: Saline, By: NeedCount, Fistula: 1, Graft: 1, Catheter: 1, Scan: true},
			{Category: FistulaNeedle, By: NeedCount, Fistula: 2, Graft: 2, SingleNeedle: 1, Scan: true},
			{Category: LockSolution, By: NeedCount, Catheter: 2, Scan: true},
			{Category: CatheterCap, By: NeedCount, Catheter: 2},
			{Category: FlushSyringe, By: NeedCount, Catheter: 2},
			{Category: AccessPack, By: NeedCount, Fistula: 1, Graft: 1, Catheter: 1},
		},
	}
}

func (r *Rules) check() error {
	seen := map[Category]bool{}
	for _, n := range r.Needs {
		switch {
		case !n.Category.Known():
			return Invalid("rules", "Use one of: "+joinCategories()+".", "there is no category %q", n.Category)
		case seen[n.Category]:
			return Invalid("rules", "Give each category one rule.", "%s has two rules", n.Category)
		case n.By != NeedCount && n.By != NeedAcid && n.By != NeedBicarbonate && n.By != NeedHeparin:
			return Invalid("rules", "Use count, acid, bicarbonate or heparin.", "%s: there is no rule %q", n.Category, n.By)
		case n.Fistula < 0 || n.Graft < 0 || n.Catheter < 0 || n.SingleNeedle < 0:
			return Invalid("rules", "Give pieces, 0 or more.", "%s: a count is below zero", n.Category)
		}
		seen[n.Category] = true
	}
	if r.PrimeMinutes < 0 || r.PrimeFlow < 0 || r.Residual < 0 || r.BicarbonateParts < 0 {
		return Invalid("rules", "Give minutes, mL/min and mL, 0 or more.", "priming or the residual is below zero")
	}
	return nil
}

// Need returns the rule of a category.
func (r *Rules) Need(c Category) (Need, bool) {
	for _, n := range r.Needs {
		if n.Category == c {
			return n, true
		}
	}
	return Need{}, false
}

// Pieces returns how many pieces a treatment with a prescription uses by a rule
// of NeedCount.
func (n *Need) Pieces(p *Prescription) int64 {
	switch {
	case p.Access == Catheter:
		return n.Catheter
	case p.SingleNeedle && n.SingleNeedle != 0:
		return n.SingleNeedle
	case p.Access == Graft:
		return n.Graft
	default:
		return n.Fistula
	}
}
