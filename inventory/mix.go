package inventory

import "fmt"

// A MixSystem is a proportion in which acid concentrate, bicarbonate and water
// make dialysate, named by the total of the parts. Systems must not be
// crossed: the concentrates differ in composition.
type MixSystem string

// The mix systems. Parts as published in FDA 510(k) K192017 and K212620 (45X =
// 1 : 1.72 : 42.28), K131202 and supplier sheets (36.83X = 1 : 1.83 : 34; 35X =
// 1 : 1.225 : 32.775). Another print of 45X has 1.775 parts of bicarbonate, so
// a unit can set its own: Rules.BicarbonateParts.
const (
	Mix35X    MixSystem = "35X"
	Mix36_83X MixSystem = "36.83X"
	Mix45X    MixSystem = "45X"
)

// mixParts holds the total of the parts and the part of bicarbonate, in
// thousandths, per one part of acid concentrate.
var mixParts = map[MixSystem]struct{ total, bicarbonate int64 }{
	Mix35X:    {35000, 1225},
	Mix36_83X: {36830, 1830},
	Mix45X:    {45000, 1720},
}

// Known reports whether m is one of the mix systems.
func (m MixSystem) Known() bool { _, ok := mixParts[m]; return ok }

// Dialysate returns the volume of dialysate in millilitres that a flow in
// mL/min makes in a number of minutes.
func Dialysate(flow, minutes int64) int64 { return flow * minutes }

// AcidVolume returns the acid concentrate, in microlitres, in a volume of
// dialysate in millilitres: one part of the total, rounded to the nearest. The
// divisor is the total of the parts, not the water.
func (m MixSystem) AcidVolume(dialysate int64) (int64, error) {
	p, ok := mixParts[m]
	if !ok {
		return 0, fmt.Errorf("mix system %q is not known", m)
	}
	return divide(dialysate*1000*1000, p.total), nil
}

// BicarbonateVolume returns the liquid bicarbonate concentrate, in
// microlitres, in a volume of dialysate in millilitres. parts, in thousandths,
// replaces the system's own part when it is not zero.
func (m MixSystem) BicarbonateVolume(dialysate, parts int64) (int64, error) {
	p, ok := mixParts[m]
	if !ok {
		return 0, fmt.Errorf("mix system %q is not known", m)
	}
	if parts == 0 {
		parts = p.bicarbonate
	}
	return divide(dialysate*1000*parts, p.total), nil
}

// divide rounds half away from zero; both arguments are not negative.
func divide(a, b int64) int64 { return (a + b/2) / b }

// ceilDivide rounds up.
func ceilDivide(a, b int64) int64 { return (a + b - 1) / b }
