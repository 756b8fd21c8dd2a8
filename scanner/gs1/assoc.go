package gs1

import "fmt"

// Check holds the elements of one message against each other: the same
// identifier twice must have the same value, and some identifiers exclude
// each other (GS1 General Specifications 4.14, attribute "ex" of the table).
// The error is an *Error.
func Check(elements []Element) error {
	// The same order of checks as GS1's reference engine, so that the first
	// of several faults has the same name: exclusions first.
	for i := range elements {
		e := &elements[i]
		for _, s := range e.AI.excludes {
			for j := range elements {
				other := &elements[j]
				if s.has(other.AI.index) && other.AI != e.AI {
					return &Error{
						Code: MutexAI, AI: e.AI.code, Offset: -1,
						Reason: fmt.Sprintf("%s cannot stand on one item with AI (%s) %s; the label is coded wrongly, or two labels were read as one",
							e.AI.title, other.AI.code, other.AI.title),
					}
				}
			}
		}
	}
	for i := range elements {
		e := &elements[i]
		for j := i + 1; j < len(elements); j++ {
			other := &elements[j]
			if e.AI == other.AI && e.Value != other.Value {
				return &Error{
					Code: ConflictingRepeat, AI: e.AI.code, Offset: -1,
					Reason: fmt.Sprintf("%s stands there twice, as %q and as %q; two labels were read as one, scan them one by one",
						e.AI.title, e.Value, other.Value),
				}
			}
		}
	}
	return nil
}

// Missing returns a warning with the code RequisiteAI for each element whose
// obligatory partner is not among the elements (attribute "req" of the
// table). The associations hold for the item, not for the symbol: the partner
// is often on the other symbol of the label.
func Missing(elements []Element) []Warning {
	var out []Warning
	for _, e := range elements {
		for i := range e.AI.requires {
			r := &e.AI.requires[i]
			if !r.met(elements) {
				out = append(out, Warning{
					Code: RequisiteAI, AI: e.AI.code,
					Message: fmt.Sprintf("AI (%s) %s needs one of AI %s beside it; scan the other code of the label too", e.AI.code, e.AI.title, r.text),
				})
			}
		}
	}
	return out
}

func (r *requirement) met(elements []Element) bool {
	for _, all := range r.any {
		n := 0
		for _, s := range all {
			for i := range elements {
				if s.has(elements[i].AI.index) {
					n++
					break
				}
			}
		}
		if n == len(all) {
			return true
		}
	}
	return false
}
