package control

// signal adds a signal of the point i.
func (c *Chart) signal(i int, r Rule, above bool) {
	c.Signals = append(c.Signals, Signal{i, r, above})
}

// countSignals applies the rules that hold for counts of any size: a point
// beyond the limits, and eight in a row above the centre. Eight below it are no
// signal: where few are expected most counts lie below the mean.
func (c *Chart) countSignals() {
	run := 0
	for i, p := range c.Points {
		if p.Value > p.High || p.Value < p.Low {
			c.signal(i, Beyond, p.Value > p.High)
		}
		if p.Value > c.Center {
			run++
		} else {
			run = 0
		}
		if run == 8 {
			c.signal(i, EightOneSide, true)
			run = 0
		}
	}
}

// zoneSignals applies the rules for figures that spread evenly about a centre.
// A signal once given is given again only after its run has ended.
func (c *Chart) zoneSignals() {
	for _, above := range []bool{true, false} {
		c.zone(above)
	}
}

// zone applies the rules to one side of the centre.
func (c *Chart) zone(above bool) {
	beyond := func(i int, sigmas float64) bool {
		p := c.Points[i]
		if above {
			return p.Value > c.Center+sigmas*(p.High-c.Center)/3
		}
		return p.Value < c.Center-sigmas*(c.Center-p.Low)/3
	}
	of := func(rule Rule, sigmas float64, need, last int) {
		from := 0 // points before it have been part of a signal
		for i := range c.Points {
			n := 0
			for j := max(from, i-last+1); j <= i; j++ {
				if beyond(j, sigmas) {
					n++
				}
			}
			if n >= need && beyond(i, sigmas) {
				c.signal(i, rule, above)
				from = i + 1
			}
		}
	}
	of(Beyond, 3, 1, 1)
	of(TwoOfThree, 2, 2, 3)
	of(FourOfFive, 1, 4, 5)
	of(EightOneSide, 0, 8, 8)
}
