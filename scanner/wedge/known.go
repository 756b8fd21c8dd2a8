package wedge

import (
	"slices"

	"lotbook/scanner/gs1"
)

// A Mask is the shape of a lot or serial: 9 for a digit, A for a capital, a
// for a small letter, every other character for itself. "LOT-42" has the
// mask "AAA-99".
type Mask string

// MaskOf returns the mask of a value.
func MaskOf(value string) Mask {
	b := []byte(value)
	for i, c := range b {
		switch {
		case '0' <= c && c <= '9':
			b[i] = '9'
		case 'A' <= c && c <= 'Z':
			b[i] = 'A'
		case 'a' <= c && c <= 'z':
			b[i] = 'a'
		}
	}
	return Mask(b)
}

// Known is what earlier confirmed scans of one GTIN showed.
type Known struct {
	// Orders are the sequences of identifiers, such as 01, 17, 10, 21.
	Orders [][]string
	// Lots and Serials are the masks of the values of (10) and (21).
	Lots, Serials []Mask
}

// Learn adds a confirmed scan.
func (k *Known) Learn(elements []gs1.Element) {
	var order []string
	for _, e := range elements {
		order = append(order, e.AI.Code())
		switch e.AI.Code() {
		case "10":
			k.Lots = addMask(k.Lots, MaskOf(e.Value))
		case "21":
			k.Serials = addMask(k.Serials, MaskOf(e.Value))
		}
	}
	if !slices.ContainsFunc(k.Orders, func(o []string) bool { return slices.Equal(o, order) }) {
		k.Orders = append(k.Orders, order)
	}
}

func addMask(ms []Mask, m Mask) []Mask {
	if slices.Contains(ms, m) {
		return ms
	}
	return append(ms, m)
}

// order reports whether the elements stand in a known order.
func (k *Known) order(elements []gs1.Element) bool {
	return slices.ContainsFunc(k.Orders, func(o []string) bool {
		return slices.EqualFunc(o, elements, func(code string, e gs1.Element) bool { return e.AI.Code() == code })
	})
}

// masks reports whether the lot and the serial among the elements have known
// shapes.
func (k *Known) masks(elements []gs1.Element) bool {
	for _, e := range elements {
		switch e.AI.Code() {
		case "10":
			if !slices.Contains(k.Lots, MaskOf(e.Value)) {
				return false
			}
		case "21":
			if !slices.Contains(k.Serials, MaskOf(e.Value)) {
				return false
			}
		}
	}
	return true
}

// Fits reports whether the elements stand in a known order and their lot and
// serial have known shapes.
func (k *Known) Fits(elements []gs1.Element) bool { return k.order(elements) && k.masks(elements) }
