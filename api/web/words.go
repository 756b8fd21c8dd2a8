package web

import (
	"slices"
	"strconv"

	"lotbook/inventory"
	"lotbook/trace"
)

func itoa[N ~int | ~int64 | ~uint64](n N) string { return strconv.FormatInt(int64(n), 10) }

// signed writes a difference with its sign: "+3", "−2", "0".
func signed(n int64) string {
	switch {
	case n > 0:
		return "+" + itoa(n)
	case n < 0:
		return "−" + itoa(-n)
	}
	return "0"
}

// plural writes "1 treatment" and "2 treatments".
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return itoa(n) + " " + many
}

// howWords says how a use is known.
func howWords(h trace.How) string {
	switch h {
	case trace.Scanned:
		return "scanned"
	case trace.Photo:
		return "from a picture"
	case trace.Typed:
		return "typed"
	case trace.Assumed:
		return "assumed from the open box"
	case trace.Fed:
		return "fed from a tank"
	}
	return string(h)
}

// A finding is one as it is shown: what was noticed, and what to do.
type finding struct {
	Stop    bool
	Title   string
	Message string
	Do      string
}

// findingWords are a short title for each code, and what to do where the
// message does not say so itself. Common practice, no source.
var findingWords = map[string]struct{ title, do string }{
	inventory.FindingExpired:        {"Expired", "Set it aside and take another pack."},
	inventory.FindingHeld:           {"On hold", ""},
	inventory.FindingNotPrescribed:  {"Not as prescribed", "Compare label and prescription before you go on; fetch the one prescribed."},
	inventory.FindingWrongProduct:   {"Other product", "Compare with the prescription; fetch the right one, or ask whoever prescribes."},
	inventory.FindingShortDated:     {"Expires soon", "It can be used until that day."},
	inventory.FindingOlderLot:       {"Older lot here", ""},
	inventory.FindingSecondOfKind:   {"Second of its kind", ""},
	inventory.FindingUnknownProduct: {"Not in the catalogue", "Tell whoever keeps the catalogue; the record stands."},
	inventory.FindingBelowZero:      {"More than the book has", ""},
	inventory.FindingNoLot:          {"No lot number", ""},
	inventory.FindingExpiryDiffers:  {"Other expiry date", ""},
	inventory.FindingBoxScanned:     {"Code of a box", "If it was more than one piece, put the number right under “Change”."},
	inventory.FindingReadingChosen:  {"Read by what is known", "If the pack says otherwise, take this back and type its lot."},
	inventory.FindingScannerChanged: {"The scanner has changed", ""},
	inventory.FindingSimilarLot:     {"Reads like another lot", ""},
	inventory.FindingSameSerial:     {"The same piece again", "If it was scanned twice, say so below. If it is another piece, compare the serial on its label."},
	inventory.FindingNotRecorded:    {"Noted as not recorded", ""},
	inventory.FindingExpiryUnknown:  {"Expiry not known", ""},
	inventory.FindingContainer:      {"Opened container", "Compare the number on the container."},
	inventory.FindingFedTwice:       {"Fed from two tanks", ""},
	inventory.FindingTankHeld:       {"The tank held another batch", ""},
	inventory.FindingNotChecked:     {"Not checked by a second person", ""},
	inventory.FindingOtherContent:   {"Another lot in the kit", ""},
}

func findingTitle(code string) string {
	if w, ok := findingWords[code]; ok {
		return w.title
	}
	return code
}

// findingsOf puts findings in words, stops first. Of a scan that is not recorded
// as used nothing is said that supposes it was.
func findingsOf(fs []inventory.Finding, used bool) []finding {
	var out []finding
	for _, f := range fs {
		do := findingWords[f.Code].do
		if !used && (f.Code == inventory.FindingBoxScanned || f.Code == inventory.FindingUnknownProduct) {
			do = ""
		}
		if used && f.Code == inventory.FindingSameSerial {
			do = "" // it was answered
		}
		out = append(out, finding{f.Level == inventory.Stop, findingTitle(f.Code), f.Message, do})
	}
	slices.SortStableFunc(out, func(a, b finding) int {
		switch {
		case a.Stop == b.Stop:
			return 0
		case a.Stop:
			return -1
		}
		return 1
	})
	return out
}

// Quick causes and reasons: one touch instead of typing in gloves. Common
// practice, no source; anything else can be typed.
var (
	causesUsed    = []string{"Code would not scan, lot not readable", "Packaging thrown away", "Scanner did not work", "No time before priming"}
	causesWithout = []string{"Not needed today", "Not prescribed any more", "None on hand"}
	causesReplace = []string{"Clotted", "Leaked", "Alarm", "Came loose", "Failed stick", "Damaged"}
	reasonsUsed   = []string{"No other in the unit", "In use before the warning came", "Prescriber agreed", "Label checked, record is wrong"}
	reasonsNotYet = []string{"Patient did not come", "Patient sent home", "Machine out of order"}
)

// reasonTwice answers a stopped scan of a piece that is recorded already.
const reasonTwice = "The same piece, scanned twice"
