package reports

import (
	"fmt"
	"strings"

	"lotbook/inventory"
)

// beingCounted says what a report leaves out, since whoever asked may count it.
func beingCounted(list []inventory.BlindCount) []Section {
	if len(list) == 0 {
		return nil
	}
	s := Section{Title: "Left out: being counted", Caution: true}
	for _, c := range list {
		what := "everything"
		if len(c.Products) > 0 {
			names := make([]string, len(c.Products))
			for i, id := range c.Products {
				names[i] = string(id)
			}
			what = strings.Join(names, ", ")
		}
		s.Text = append(s.Text, fmt.Sprintf("At %s, %s: count sheet %s is open. What the book has there is told once the count is finished.", c.Location, what, c.Sheet))
	}
	return []Section{s}
}
