package trace

import (
	"fmt"
	"strings"
	"time"

	"lotbook/inventory"
)

// treatmentWords says in a line what an entry of a treatment records.
func treatmentWords(ev inventory.Event) string {
	switch v := ev.(type) {
	case *Opened:
		var kinds []string
		for _, q := range v.Required {
			kinds = append(kinds, q.Category.Title())
		}
		return fmt.Sprintf("treatment %s opened at station %s, to be recorded by lot: %s", v.Treatment, v.Station, strings.Join(kinds, ", "))
	case *Used:
		return fmt.Sprintf("%s used in treatment %s, %s%s", pieces(&v.Stock), v.Treatment, v.How, in(", from container ", string(v.Container)))
	case *ScanStopped:
		return fmt.Sprintf("%s scanned in treatment %s, and stopped", pieces(&v.Stock), v.Treatment)
	case *NotRecorded:
		if v.Used {
			return fmt.Sprintf("%s used in treatment %s and not recorded: %s", v.Category.Title(), v.Treatment, v.Cause)
		}
		return fmt.Sprintf("treatment %s did without %s: %s", v.Treatment, v.Category.Title(), v.Cause)
	case *Closed:
		if v.NotDone {
			return fmt.Sprintf("treatment %s did not take place: %s", v.Treatment, v.Note)
		}
		return fmt.Sprintf("treatment %s closed after %d min", v.Treatment, v.Minutes)
	}
	return ev.Kind()
}

// pieces says how many pieces of which lot there are.
func pieces(s *inventory.Stock) string {
	lot := "without a lot"
	if s.Lot != "" {
		lot = "of lot " + s.Lot
	}
	return fmt.Sprintf("%d of %s %s", s.Quantity, s.Product, lot)
}

// countWords says what a count found of an answer's lot, or of the lots of its
// holders.
func countWords(c *inventory.Counted, a *LotAnswer) string {
	what := "count of " + string(c.Location)
	if c.Complete {
		what = "complete " + what
	}
	found := ""
	for _, k := range a.carriers {
		for _, l := range c.Lines {
			if k.lots[0].Number == l.Lot && k.has(l.Product) && l.Counted > 0 {
				found += fmt.Sprintf(", %d of %s lot %s", l.Counted, l.Product, l.Lot)
			}
		}
	}
	if found == "" {
		return what + " found none of it"
	}
	return what + " found" + found[1:]
}

func contentWords(list []inventory.Content) string {
	var texts []string
	for _, c := range list {
		number := c.Number
		if number == "" {
			number = "not known"
		}
		texts = append(texts, fmt.Sprintf("%d of %s, lot %s", c.Pieces, c.Product, number))
	}
	return strings.Join(texts, "; ")
}

func stationWords(list []StationID) string {
	texts := make([]string, len(list))
	for i, s := range list {
		texts[i] = string(s)
	}
	return "stations " + strings.Join(texts, ", ")
}

// in returns a text with words before it, nothing if there is no text.
func in(words, text string) string {
	if text == "" {
		return ""
	}
	return words + text
}

func stamp(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format("2006-01-02 15:04 UTC")
}
