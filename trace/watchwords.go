package trace

import (
	"fmt"
	"math"

	"lotbook/trace/control"
)

// say puts what was found in words for whoever keeps the stock.
func (s *Series) say(w *Watch) string {
	if len(s.Points) == 0 {
		return "Not known: no count closed any of these shifts."
	}
	if s.Level == nil {
		return fmt.Sprintf("Not known: %d counted %ss are too few, %d are needed.", len(s.Points), s.By, control.Least)
	}
	text := ""
	if s.Alarm {
		c := s.Change
		text = fmt.Sprintf("Since %s (between %s and %s) more goes than is recorded or accounted for: about %s (%s to %s), so far some %d. "+
			"Chance alone would show this in fewer than %s, with all %d products and places looked at allowed for.",
			c.Onset, c.Earliest, c.Latest, perHundred(c.PerTreatment), bare(c.Low), bare(c.High), c.Pieces, oneIn(c.Corrected), w.Looked)
	}
	if s.Steady {
		if text != "" {
			text += " "
		}
		text += fmt.Sprintf("All the time more goes than comes back: about %s (%s to %s), more at %d counts and fewer at %d.",
			perHundred(s.Level.PerTreatment), bare(s.Level.Low), bare(s.Level.High), s.Level.More, s.Level.Fewer)
	}
	if text == "" {
		text = "Nothing points to a loss: what is open goes up and down as chance has it."
	}
	if s.NotCounted > 0 {
		text += fmt.Sprintf(" %d %ss with treatments were not counted, and are not in this.", s.NotCounted, s.By)
	}
	return text
}

// perHundred writes a rate as pieces in 100 treatments.
func perHundred(rate float64) string { return bare(rate) + " pieces in 100 treatments" }

func bare(rate float64) string {
	n := 100 * rate
	if math.Abs(n) >= 10 {
		return fmt.Sprintf("%.0f", n)
	}
	return fmt.Sprintf("%.1f", n)
}

// oneIn writes a share as one in so many.
func oneIn(p float64) string {
	return fmt.Sprintf("1 unit of %d", int(math.Max(1, 1/math.Max(p, 1e-6))))
}
