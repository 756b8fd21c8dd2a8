package reading

import (
	"fmt"
	"strconv"

	"lotbook/scanner"
)

// A Label is what a label of a delivery says beyond its product and lot.
type Label struct {
	Reading
	// Unit is a logistic unit's SSCC, 18 digits; empty on a pack's label.
	Unit string
	// Packs is how many packs of the GTIN one such label stands for: 1, or the
	// count of trade items in a logistic unit, AI (37).
	Packs int64
	// Holds is how many pieces a pack holds by its label, AI (30) or HIBC's
	// quantity; 0 where it does not say.
	Holds int64
}

// Delivered reads the codes of one label of a delivery. The GTIN of a logistic
// unit is that of the packs in it, AI (02), and their number AI (37) (GS1
// General Specifications 3.3.3, 3.6.5). Weights and other measures, AI (310n) to
// (369n), are no counts: a warning says that they were left out.
func Delivered(g Given) Label {
	l := Label{Reading: Of(g), Packs: 1}
	content := false
	for _, e := range l.Elements {
		switch {
		case e.AI == "00":
			l.Unit = e.Value
		case e.AI == "02":
			content = true
		case e.AI == "30" || e.AI == "qty":
			l.Holds = count(e.Value)
		case e.AI == "37":
			l.Packs = count(e.Value)
		case len(e.AI) == 4 && e.AI >= "3100" && e.AI <= "3699":
			l.Warnings = append(l.Warnings[:len(l.Warnings):len(l.Warnings)], scanner.Warning{
				Code: "measure_left_out", Message: fmt.Sprintf("(%s) %s is a weight or another measure and no count of pieces: it was left out", e.AI, e.Title),
			})
		}
	}
	if content && l.Packs == 0 {
		l.Packs = 1
	}
	return l
}

// count reads a count of up to eight digits.
func count(v string) int64 {
	n, err := strconv.ParseInt(v, 10, 64)
	if err != nil || n < 0 {
		return 0
	}
	return n
}
