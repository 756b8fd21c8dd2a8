package reading_test

import (
	"slices"
	"testing"

	"lotbook/api/reading"
	"lotbook/scanner"
	"lotbook/trace"
)

// The labels of packs and logistic units, laid out as GS1 General
// Specifications 3.3.3, 3.6.2 and 3.6.5 and the GS1 Logistic Label Guideline
// have them; the SSCC is that of the worked example in 7.9.1, the GTINs are
// invented. (3102)001250 is a net weight of 12.50 kg.
func TestLabelsOfDeliveries(t *testing.T) {
	const sscc = "376104250021234569"
	for name, tc := range map[string]struct {
		lines           []string
		outcome         reading.Outcome
		unit, gtin, lot string
		packs, holds    int64
		warned          string
	}{
		"a case":                       {[]string{"]C1011950600010006417280331" + "10L-1"}, reading.Ready, "", "19506000100064", "L-1", 1, 0, ""},
		"unit and content, one symbol": {[]string{"]C100" + sscc + "021950600010006437" + "24\x1d10L-1"}, reading.Ready, sscc, "19506000100064", "L-1", 24, 0, ""},
		"unit, then content":           {[]string{"]C100" + sscc, "]C1021950600010006437" + "24\x1d10L-1"}, reading.Ready, sscc, "19506000100064", "L-1", 24, 0, ""},
		"content, then unit":           {[]string{"]C1021950600010006437" + "24\x1d10L-1", "]C100" + sscc}, reading.Ready, sscc, "19506000100064", "L-1", 24, 0, ""},
		"unit alone":                   {[]string{"]C100" + sscc}, reading.NeedsProduct, sscc, "", "", 1, 0, ""},
		"a pallet and a case":          {[]string{"]C100" + sscc, "]C1011950600010006410L-1"}, reading.NeedsChoice, "", "", "", 1, 0, ""},
		"count on the pack":            {[]string{"]C1019950600010006030" + "20\x1d10L-1"}, reading.Ready, "", "99506000100060", "L-1", 1, 20, ""},
		"weight on the unit":           {[]string{"]C100" + sscc + "02195060001000643102" + "001250" + "37" + "24\x1d10L-1"}, reading.Ready, sscc, "19506000100064", "L-1", 24, 0, "measure_left_out"},
		// The check character is mod 43 over all before it (ANSI/HIBC 2.6, appendix B).
		"HIBC with a quantity": {[]string{"+A99912345/$$8240928LOT1I"}, reading.Ready, "", "", "LOT1", 1, 24, ""},
	} {
		t.Run(name, func(t *testing.T) {
			l := reading.Delivered(reading.Given{Codes: codes(tc.lines...), How: trace.Scanned})
			if l.Outcome != tc.outcome || l.Unit != tc.unit || l.Stock.GTIN != tc.gtin || l.Stock.Lot != tc.lot || l.Packs != tc.packs || l.Holds != tc.holds {
				t.Errorf("%+v", l)
			}
			if tc.warned != "" && !slices.ContainsFunc(l.Warnings, func(w scanner.Warning) bool { return w.Code == tc.warned }) {
				t.Errorf("not said: %s in %+v", tc.warned, l.Warnings)
			}
		})
	}
}
