package web

import (
	"slices"

	"lotbook/trace"
)

// What is open is put in words by what is known: the figures. What may have
// caused it is a guess, and is shown apart from them as one. Common practice, no
// source.

// countedMeans says what of counted − recorded no cause accounts for, and what
// may be behind it; both are empty where nothing is open or nothing was counted.
func countedMeans(l *trace.Line) (means, perhaps string) {
	if l.Counted == nil || *l.OpenCountedLessRecorded == 0 {
		return "", ""
	}
	than := "recorded"
	if slices.ContainsFunc(l.Causes, func(c trace.Cause) bool { return c.Counted != 0 }) {
		if than += " and explained"; l.Recorded == 0 {
			than = "explained, with nothing recorded"
		}
	}
	n := int(*l.OpenCountedLessRecorded)
	if n > 0 {
		return plural(n, "piece", "pieces") + " more gone by the counts than " + than,
			"Perhaps used and not written down, lost, moved without an entry, or counted wrongly."
	}
	means = plural(-n, "piece", "pieces") + " fewer gone by the counts than " + than
	switch {
	case *l.Counted < 0:
		found := plural(int(-*l.Counted), "piece", "pieces") + " more at the closing count than there can have been by the book"
		if l.Recorded == 0 {
			return found, "Perhaps brought in without an entry, or counted wrongly."
		}
		return means + "; " + found, "Perhaps written down and not used, brought in without an entry, or counted wrongly."
	case *l.Counted == 0 && l.Recorded == 0:
		return "Expected " + itoa(l.Expected) + ", nothing gone by the counts and nothing recorded",
			"Perhaps done without, taken from another place, brought in without an entry, or counted wrongly."
	}
	return means, "Perhaps written down and not used, brought in without an entry, or counted wrongly."
}

// recordedMeans says what of recorded − expected no cause accounts for, empty
// where nothing is open.
func recordedMeans(l *trace.Line) string {
	switch n := int(l.OpenRecordedLessExpected); {
	case n > 0:
		return plural(n, "piece", "pieces") + " more recorded than the rules expect"
	case n < 0:
		return plural(-n, "piece", "pieces") + " fewer recorded than the rules expect"
	}
	return ""
}
