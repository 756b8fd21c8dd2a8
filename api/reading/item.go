package reading

import (
	"lotbook/inventory"
	"lotbook/scanner"
	"lotbook/trace"
)

// Item fills in what the codes of an item say that has a problem, where they say
// it without doubt; what a person said goes first. A code that can't be read is
// kept as it is, so that what happened can be written down.
func Item(codes []scanner.Code, f *trace.ProblemFacts) {
	for i := range codes {
		c := &codes[i]
		if c.Error != nil || len(c.Candidates) > 0 {
			continue
		}
		if f.Product == "" && f.GTIN == "" {
			f.GTIN = c.GTIN
		}
		if f.Lot == "" {
			f.Lot = c.Lot
		}
		if f.Serial == "" {
			f.Serial = c.Serial
		}
		if f.Expires == "" {
			f.Expires = inventory.LastDay(c.Expires)
		}
	}
}
