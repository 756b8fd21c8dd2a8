package inventory

import (
	"fmt"
	"slices"
	"strings"
)

// mostScopeLines is how many lines a scope may have, and how many lots or
// serials a line: far above any notice, and a bound on what a scan costs.
const mostScopeLines = 2000

// Check says whether it can be a scope, in a Refusal if not.
func (s Scope) Check() error {
	if len(s) == 0 {
		return Invalid("scope", "Say which lots are meant: a list, a range, a pattern, all, or those without a number.", "there are no lots")
	}
	if len(s) > mostScopeLines {
		return Invalid("scope", "Put the numbers on fewer lines, many on each.", "there are %d lines", len(s))
	}
	return EachLine(len(s), func(i int) error { return s[i].check() })
}

func (l *ScopeLine) check() error {
	if l.Kind != ScopeLots && len(l.Lots) > 0 {
		return Invalid("lots", "Put the list on a line of its own, of the kind lots.", "a line of the kind %q lists lots", l.Kind)
	}
	if l.Kind != ScopeRange && (l.From != "" || l.To != "") {
		return Invalid("from", "Put the range on a line of its own, of the kind range.", "a line of the kind %q has a range", l.Kind)
	}
	switch l.Kind {
	case ScopeLots:
		if len(l.Lots) == 0 || len(l.Lots) > mostScopeLines {
			return Invalid("lots", "List 1 to 2,000 lot numbers as the notice prints them.", "there are %d lot numbers", len(l.Lots))
		}
	case ScopeRange:
		if l.From == "" || l.To == "" {
			return Invalid("to", "Give both bounds as the notice prints them. For an open end use a pattern, or all lots made since a day.", "a bound of the range is missing")
		}
		if naturalCompare(l.From, l.To) > 0 && l.From > l.To {
			return Invalid("to", "Put the lower number first.", "%s comes after %s", l.From, l.To)
		}
	case ScopePattern:
		if strings.Trim(l.Pattern, "*") == "" {
			return Invalid("pattern", "Give the characters that all the lots have, with * for the rest; for every lot say all.", "the pattern %q says nothing", l.Pattern)
		}
	case ScopeAll, ScopeNoLot:
	default:
		return Invalid("kind", "Use lots, range, pattern, all or no_lot.", "there is no kind %q", l.Kind)
	}
	for _, n := range append(append([]string{l.From, l.To, l.Pattern, l.SerialFrom, l.SerialTo}, l.Lots...), l.Serials...) {
		if err := CheckLotNumber(n); err != nil {
			return err
		}
	}
	if slices.Contains(l.Lots, "") || slices.Contains(l.Serials, "") {
		return Invalid("lots", "Leave empty ones out; for pieces without a lot number say no_lot.", "a number is empty")
	}
	if (l.SerialFrom == "") != (l.SerialTo == "") {
		return Invalid("serial_to", "Give both bounds as the notice prints them.", "a bound of the serial numbers is missing")
	}
	for _, w := range []struct {
		field string
		Window
	}{{"made", l.Made}, {"expires", l.Expires}, {"received", l.Received}} {
		if err := w.check(w.field); err != nil {
			return err
		}
	}
	return nil
}

func (w Window) check(field string) error {
	for _, d := range []Date{w.From, w.To} {
		if d == "" {
			continue
		}
		if _, err := ParseDate(string(d)); err != nil {
			return Invalid(field, "Give days as 2027-03-31.", "%v", err)
		}
	}
	if w.From != "" && w.To != "" && w.To < w.From {
		return Invalid(field, "Put the earlier day first.", "%s comes after %s", w.From, w.To)
	}
	return nil
}

// Words says in one line what the line means, for people.
func (l *ScopeLine) Words() string {
	var s string
	switch l.Kind {
	case ScopeLots:
		s = "lot " + strings.Join(l.Lots, ", ")
		if len(l.Lots) > 1 {
			s = "lots " + strings.Join(l.Lots, ", ")
		}
	case ScopeRange:
		s = fmt.Sprintf("lots %s to %s", l.From, l.To)
	case ScopePattern:
		s = "lots of the form " + l.Pattern
	case ScopeAll:
		s = "all lots"
	case ScopeNoLot:
		s = "pieces without a lot number"
	}
	for _, w := range []struct {
		word string
		Window
	}{{"made", l.Made}, {"expiring", l.Expires}, {"received", l.Received}} {
		if w.Set() {
			s += ", " + w.word + w.words()
		}
	}
	if len(l.Serials) > 0 {
		s += ", serial numbers " + strings.Join(l.Serials, ", ")
	}
	if l.SerialFrom != "" {
		s += fmt.Sprintf(", serial numbers %s to %s", l.SerialFrom, l.SerialTo)
	}
	return s
}

func (w Window) words() string {
	s := ""
	if w.From != "" {
		s += " from " + string(w.From)
	}
	if w.To != "" {
		s += " to " + string(w.To)
	}
	return s
}
