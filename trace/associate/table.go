package associate

import (
	"encoding/json"
	"math"
	"strconv"
)

// A Table counts cases and others by whether they were exposed. No cell is
// below zero.
//
//	         exposed  not exposed
//	cases       A          B
//	others      C          D
type Table struct {
	A, B, C, D int64
}

// Total returns how many are counted.
func (t Table) Total() int64 { return t.A + t.B + t.C + t.D }

// Defined reports whether the table can say anything: there are cases and
// others, and exposed and not exposed among them.
func (t Table) Defined() bool {
	return t.A+t.B > 0 && t.C+t.D > 0 && t.A+t.C > 0 && t.B+t.D > 0
}

// CrossProduct returns A·D / (B·C), the odds ratio of the sample. It lies
// further from 1 than the conditional estimate.
func (t Table) CrossProduct() Ratio {
	if !t.Defined() {
		return Ratio(math.NaN())
	}
	return Ratio(float64(t.A) * float64(t.D) / (float64(t.B) * float64(t.C)))
}

// A Ratio is an odds ratio or one of its bounds: from 0 to infinity, or not a
// number where nothing can be said. In JSON it is a number, "infinite" or null.
type Ratio float64

// Infinite reports whether there is no upper bound.
func (r Ratio) Infinite() bool { return math.IsInf(float64(r), 1) }

// Defined reports whether anything can be said.
func (r Ratio) Defined() bool { return !math.IsNaN(float64(r)) }

// String gives three digits: "21.1", "0.0473", "infinite", "not defined".
func (r Ratio) String() string {
	switch {
	case !r.Defined():
		return "not defined"
	case r.Infinite():
		return "infinite"
	case r >= 1000:
		return strconv.FormatFloat(float64(r), 'f', 0, 64)
	}
	return strconv.FormatFloat(float64(r), 'g', 3, 64)
}

// MarshalJSON implements json.Marshaler.
func (r Ratio) MarshalJSON() ([]byte, error) {
	switch {
	case !r.Defined():
		return []byte("null"), nil
	case r.Infinite():
		return []byte(`"infinite"`), nil
	}
	return json.Marshal(float64(r))
}
