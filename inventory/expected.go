package inventory

import "fmt"

// A Term is one step of how a figure was worked out.
type Term struct {
	What  string `json:"what"`  // "dialysate flow"
	Value string `json:"value"` // "720 mL/min"
	// How says where the value comes from: a formula with its numbers, a
	// prescription, a rule, a product's facts.
	How string `json:"how"`
}

// An Expectation is what one treatment should use of one category, and why.
type Expectation struct {
	Category Category  `json:"category"`
	Product  ProductID `json:"product,omitempty"`
	// Pieces in the product's base unit. For a product that several
	// treatments share it is 0 and Volume says what this one takes.
	Pieces int64 `json:"pieces"`
	// Volume in microlitres, when the rule works with volumes.
	Volume int64  `json:"volume_ul,omitempty"`
	Shared bool   `json:"shared,omitempty"`
	Scan   bool   `json:"scan"`
	Terms  []Term `json:"terms"`
}

// Expect works out what a treatment with a prescription uses when it lasts so
// many minutes. product returns the facts of a product, nil if it is not in
// the catalogue. Categories that it uses nothing of are left out.
func (u *Unit) Expect(p *Prescription, minutes int64, product func(ProductID) (*Product, error)) ([]Expectation, error) {
	var list []Expectation
	for i := range u.Rules.Needs {
		x, err := u.expect(&u.Rules.Needs[i], p, minutes, product)
		if err != nil {
			return nil, err
		}
		if x.Pieces > 0 || x.Volume > 0 {
			list = append(list, x)
		}
	}
	return list, nil
}

// ProductFor returns the product that a prescription, or else the unit, names
// for a category; prescribed tells which of the two.
func (u *Unit) ProductFor(p *Prescription, c Category) (id ProductID, prescribed bool) {
	if id := p.Products[c]; id != "" {
		return id, true
	}
	return u.Defaults[c], false
}

func (u *Unit) expect(n *Need, p *Prescription, minutes int64, product func(ProductID) (*Product, error)) (Expectation, error) {
	id, _ := u.ProductFor(p, n.Category)
	x := Expectation{Category: n.Category, Product: id, Scan: n.Scan}
	var prod *Product
	if id != "" {
		var err error
		if prod, err = product(id); err != nil {
			return x, err
		}
	}
	var facts Facts
	if prod != nil {
		facts = prod.Facts
	}
	switch n.By {
	case NeedCount:
		x.Pieces = n.Pieces(p)
		how := "the unit's rule for access by " + string(p.Access)
		if p.SingleNeedle && n.SingleNeedle != 0 && p.Access != Catheter {
			how = "the unit's rule for a single needle"
		}
		x.term("pieces", fmt.Sprint(x.Pieces), how)
	case NeedHeparin:
		if p.Heparin == nil {
			return x, nil
		}
		x.heparin(p.Heparin, minutes, facts)
	case NeedAcid, NeedBicarbonate:
		x.concentrate(&u.Rules, n.By, p, minutes, facts)
	}
	return x, nil
}

func (x *Expectation) term(what, value, how string) {
	x.Terms = append(x.Terms, Term{what, value, how})
}

// concentrate fills in the volume and the pieces of acid concentrate or
// bicarbonate.
func (x *Expectation) concentrate(r *Rules, by NeedBy, p *Prescription, minutes int64, f Facts) {
	mix := p.MixSystem
	if mix == "" {
		mix = f.MixSystem
	}
	if by == NeedBicarbonate && f.FillVolume == 0 {
		x.Pieces = 1
		x.term("pieces", "1", "one cartridge a treatment; the product has no fill volume")
		return
	}
	if !mix.Known() {
		x.Pieces = 1
		x.term("pieces", "1", "the mix system is not known, so one container is assumed")
		return
	}
	flow := p.Flow()
	if p.DialysateFlow != 0 {
		x.term("dialysate flow", fmt.Sprintf("%d mL/min", flow), "prescription")
	} else {
		x.term("dialysate flow", fmt.Sprintf("%d mL/min", flow), fmt.Sprintf("blood flow %d mL/min × %s", p.BloodFlow, thousandths(p.FlowFactor)))
	}
	run := Dialysate(flow, minutes)
	x.term("dialysate", Litres(run*1000), fmt.Sprintf("%d mL/min × %d min", flow, minutes))
	prime := Dialysate(r.PrimeFlow, r.PrimeMinutes)
	if prime != 0 {
		x.term("priming", Litres(prime*1000), fmt.Sprintf("%d mL/min × %d min, the unit's rule", r.PrimeFlow, r.PrimeMinutes))
	}
	total := mixParts[mix].total
	if by == NeedAcid {
		x.Volume, _ = mix.AcidVolume(run + prime)
		x.term("acid concentrate", Litres(x.Volume), fmt.Sprintf("(%s + %s) / %s total parts of %s", Litres(run*1000), Litres(prime*1000), thousandths(total), mix))
	} else {
		parts := r.BicarbonateParts
		if parts == 0 {
			parts = mixParts[mix].bicarbonate
		}
		x.Volume, _ = mix.BicarbonateVolume(run+prime, parts)
		x.term("bicarbonate", Litres(x.Volume), fmt.Sprintf("(%s + %s) × %s / %s total parts of %s", Litres(run*1000), Litres(prime*1000), thousandths(parts), thousandths(total), mix))
	}
	if r.Residual != 0 && by == NeedAcid {
		x.Volume += r.Residual * 1000
		x.term("residual", Litres(r.Residual*1000), "stays in the container, the unit's rule")
	}
	x.containers(f, "content")
}

// heparin fills in the units and the pieces of heparin.
func (x *Expectation) heparin(h *HeparinDose, minutes int64, f Facts) {
	units := h.Units(minutes)
	x.term("heparin", fmt.Sprintf("%d units", units), fmt.Sprintf("%d + %d/h × (%d − %d) min / 60", h.Bolus, h.Rate, minutes, min(h.StopEarly, minutes)))
	if f.UnitsPerML == 0 || f.FillVolume == 0 {
		x.Pieces = 1
		x.term("pieces", "1", "the strength or the fill volume is not known, so one piece is assumed")
		return
	}
	x.Volume = ceilDivide(units*1000, f.UnitsPerML)
	x.term("volume", Litres(x.Volume), fmt.Sprintf("%d units / %d units per mL", units, f.UnitsPerML))
	x.containers(f, "content")
}

// containers turns the volume into pieces.
func (x *Expectation) containers(f Facts, what string) {
	switch {
	case f.FillVolume == 0:
		x.Pieces = 1
		x.term("pieces", "1", "the fill volume is not known, so one container is assumed")
	case f.Shared:
		x.Shared = true
		x.term("pieces", "shared", fmt.Sprintf("a piece of %s serves several treatments; volumes are added up", Litres(f.FillVolume*1000)))
	default:
		x.Pieces = ceilDivide(x.Volume, f.FillVolume*1000)
		x.term("pieces", fmt.Sprint(x.Pieces), fmt.Sprintf("%s / %s %s, rounded up: the rest is thrown away", Litres(x.Volume), Litres(f.FillVolume*1000), what))
	}
}

// Pieces returns how many pieces a volume (microlitres) of a shared product
// takes up, rounded up.
func SharedPieces(volume, fillVolumeML int64) int64 {
	if fillVolumeML == 0 {
		return 0
	}
	return ceilDivide(volume, fillVolumeML*1000)
}

// Litres writes microlitres as litres to three decimals, or as mL below 0.1 L.
func Litres(ul int64) string {
	if ul < 100_000 && ul > -100_000 {
		return fmt.Sprintf("%.1f mL", float64(ul)/1000)
	}
	ml := divide(ul, 1000)
	return fmt.Sprintf("%d.%03d L", ml/1000, ml%1000)
}

// thousandths writes 1800 as 1.8 and 36830 as 36.83.
func thousandths(n int64) string {
	s := fmt.Sprintf("%d.%03d", n/1000, n%1000)
	for s[len(s)-1] == '0' {
		s = s[:len(s)-1]
	}
	if s[len(s)-1] == '.' {
		s = s[:len(s)-1]
	}
	return s
}
