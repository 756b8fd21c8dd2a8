package demo

import (
	"fmt"

	"lotbook/inventory"
)

// A good is a product of the catalogue with what the demo knows of it.
type good struct {
	inventory.Product
	// inner and full are the pieces in an inner pack (0: there is none) and
	// in a case.
	inner, full int64
	// shelf life in days from delivery, and what its lot numbers look like:
	// # stands for a digit.
	life [2]int
	form string
	// week is what the unit uses in a week, in pieces.
	week float64
	lots []*lot // those that the supplier has delivered, the current one last
}

// A lot is a lot of a good.
type lot struct {
	good    *good
	number  string
	expires inventory.Date
	held    bool
	// overlooked: the last count where it lies did not name it. carried: some of
	// it was carried without a word since a count found it.
	overlooked, carried bool
	kept                bool // stock kept back for a scene: no one takes it in the normal way
}

// gtin returns a GTIN-14 of an invented maker's item: the indicator, a company
// prefix of 7 digits in a range that GS1 keeps for documentation (950 and 952),
// the item and the check digit.
func gtin(indicator int, company string, item int) string {
	s := fmt.Sprintf("%d%s%05d", indicator, company, item)
	sum := 0
	for i := range len(s) {
		d := int(s[i] - '0')
		if i%2 == 0 {
			d *= 3
		}
		sum += d
	}
	return fmt.Sprintf("%s%d", s, (10-sum%10)%10)
}

// The makers, all invented.
var makers = [3]struct{ name, company string }{
	{"Exemplar Renal (fictitious)", "9506001"},
	{"Specimen Fluids (fictitious)", "9520012"},
	{"Placeholder Medical (fictitious)", "9520037"},
}

// The ids of the products that the demo speaks of by name.
const (
	dialyzer14   = "DLZ-14"
	dialyzer18   = "DLZ-18"
	dialyzer21   = "DLZ-21"
	trial        = "DLZ-17T"
	linesWith    = "BLS-INF"
	linesWithout = "BLS-STD"
	acidK1       = "ACD-K1"
	acidK2       = "ACD-K2"
	acidK3       = "ACD-K3"
	bicarbonate  = "BIC-650"
	vial         = "HEP-10"
	prefilled    = "HEP-05"
	saline       = "SAL-1L"
	needle15     = "NDL-15"
	needle16     = "NDL-16"
	capPair      = "CAP-CATH"
	lock         = "LCK-05"
	flush        = "FLS-10"
	packFistula  = "PCK-FST"
	packCatheter = "PCK-CTH"
	strips       = "STR-CL"
	disinfectant = "DIS-1L"
)

// catalogue returns the goods in the order of a list. Facts of concentrates
// are of the 45X system (trade figures); sizes of packs are invented.
func catalogue() []*good {
	acid := func(k, ca int64) inventory.Facts {
		return inventory.Facts{MixSystem: inventory.Mix45X, Potassium: k, Calcium: ca, IonsKnown: true, FillVolume: 3785}
	}
	item := 100
	add := func(id, name string, c inventory.Category, maker int, inner, full int64, life [2]int, form string, f inventory.Facts) *good {
		item++
		m := makers[maker]
		g := &good{inner: inner, full: full, life: life, form: form}
		g.Product = inventory.Product{ID: inventory.ProductID(id), Name: name, Category: c, Maker: m.name, Facts: f}
		g.Packs = []inventory.Pack{{Level: inventory.LevelEach, GTIN: gtin(0, m.company, item), Holds: 1}}
		if inner > 0 {
			g.Packs = append(g.Packs, inventory.Pack{Level: inventory.LevelInner, GTIN: gtin(1, m.company, item), Holds: inner})
		}
		g.Packs = append(g.Packs, inventory.Pack{Level: inventory.LevelCase, GTIN: gtin(5, m.company, item), Holds: full})
		return g
	}
	none := inventory.Facts{}
	long, mid, short := [2]int{600, 1000}, [2]int{330, 640}, [2]int{110, 380}
	return []*good{
		add(dialyzer14, "Dialyzer 1.4 m²", inventory.Dialyzer, 0, 0, 24, long, "D14-#####", none),
		add(dialyzer18, "Dialyzer 1.8 m²", inventory.Dialyzer, 0, 0, 24, long, "D18-#####", none),
		add(dialyzer21, "Dialyzer 2.1 m²", inventory.Dialyzer, 0, 0, 24, long, "D21-#####", none),
		add(linesWith, "Bloodline set with infusion line", inventory.BloodlineSet, 0, 0, 20, long, "0#B####", none),
		add(linesWithout, "Bloodline set without infusion line", inventory.BloodlineSet, 0, 0, 20, long, "0#B####", none),
		add(acidK1, "Acid concentrate 45X K 1.0 Ca 1.5", inventory.AcidConcentrate, 1, 0, 4, mid, "26#####A", acid(1000, 1500)),
		add(acidK2, "Acid concentrate 45X K 2.0 Ca 1.25", inventory.AcidConcentrate, 1, 0, 4, mid, "26#####A", acid(2000, 1250)),
		add(acidK3, "Acid concentrate 45X K 3.0 Ca 1.25", inventory.AcidConcentrate, 1, 0, 4, mid, "26#####A", acid(3000, 1250)),
		add(bicarbonate, "Bicarbonate cartridge 650 g", inventory.Bicarbonate, 1, 0, 10, mid, "C######", none),
		add(vial, "Heparin vial 10 mL, 1,000 units/mL", inventory.Heparin, 1, 10, 100, short, "H#####", inventory.Facts{FillVolume: 10, UnitsPerML: 1000, Shared: true}),
		add(prefilled, "Heparin syringe 5 mL, 1,000 units/mL", inventory.Heparin, 1, 10, 60, short, "HS####", inventory.Facts{FillVolume: 5, UnitsPerML: 1000}),
		add(saline, "Saline 0.9% 1 L", inventory.Saline, 1, 0, 10, mid, "S26####", none),
		add(needle15, "Fistula needle 15 G", inventory.FistulaNeedle, 2, 50, 500, long, "NN#####", none),
		add(needle16, "Fistula needle 16 G", inventory.FistulaNeedle, 2, 50, 500, long, "NN#####", none),
		add(capPair, "Catheter cap", inventory.CatheterCap, 2, 25, 250, long, "K####", none),
		add(lock, "Lock solution, syringe 5 mL", inventory.LockSolution, 1, 20, 200, short, "L#####", none),
		add(flush, "Flush syringe 10 mL", inventory.FlushSyringe, 2, 30, 240, mid, "F######", none),
		add(packFistula, "Access pack fistula", inventory.AccessPack, 2, 0, 40, long, "PF####", none),
		add(packCatheter, "Access pack catheter", inventory.AccessPack, 2, 0, 40, long, "PC####", none),
		add(strips, "Chlorine test strip", inventory.TestStrip, 2, 100, 1000, mid, "T#####", none),
		add(disinfectant, "Disinfectant 1 L", inventory.Disinfectant, 1, 0, 12, mid, "X#####", none),
		add(trial, "Dialyzer 1.7 m² (trial)", inventory.Dialyzer, 2, 0, 12, long, "TR-###", none),
	}
}

// defaults names the products that a treatment uses where nothing else is
// prescribed.
func defaults() map[inventory.Category]inventory.ProductID {
	return map[inventory.Category]inventory.ProductID{
		inventory.Dialyzer: dialyzer18, inventory.BloodlineSet: linesWith, inventory.Bicarbonate: bicarbonate, inventory.Heparin: vial,
		inventory.Saline: saline, inventory.FistulaNeedle: needle15, inventory.CatheterCap: capPair, inventory.LockSolution: lock,
		inventory.FlushSyringe: flush, inventory.AccessPack: packFistula, inventory.TestStrip: strips, inventory.Disinfectant: disinfectant,
	}
}

// newLot has the supplier's next lot delivered from now on.
func (w *world) newLot(g *good, day inventory.Date) *lot {
	for {
		b := []byte(g.form)
		for i := range b {
			if b[i] == '#' {
				b[i] = byte('0' + w.rng.IntN(10))
			}
		}
		if l := string(b); !w.lotTaken[string(g.ID)+l] {
			w.lotTaken[string(g.ID)+l] = true
			l := &lot{good: g, number: l, expires: day.AddDays(w.between(g.life[0], g.life[1]))}
			g.lots = append(g.lots, l)
			return l
		}
	}
}
