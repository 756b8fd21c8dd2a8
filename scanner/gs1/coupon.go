package gs1

// Coupons never lie on a medical pack, but the table names them, and a reader
// that took one for something else would be wrong. The layouts are those of
// the North American Coupon Application Guideline (AI 8110) and the GS1 AI
// (8112) Coupon Data Specification.

// A cursor walks over fields of digits whose lengths the data itself states.
type cursor struct {
	rest string
	bad  bool
}

// take returns the next n digits.
func (c *cursor) take(n int) string {
	if c.bad || n > len(c.rest) {
		c.bad = true
		return ""
	}
	v := c.rest[:n]
	c.rest = c.rest[n:]
	return v
}

// digit returns the next digit, which must be within lo and hi.
func (c *cursor) digit(lo, hi byte) int {
	v := c.take(1)
	if v == "" || v[0] < lo || v[0] > hi {
		c.bad = true
		return 0
	}
	return int(v[0] - '0')
}

// field reads a length digit within lo and hi and takes that many digits and
// more.
func (c *cursor) field(lo, hi byte, more int) string {
	n := c.digit(lo, hi)
	return c.take(n + more)
}

// purchase reads a purchase requirement: value, requirement code, family.
func (c *cursor) purchase() {
	c.field('1', '5', 0)
	if code := c.digit('0', '9'); code > 4 && code != 9 {
		c.bad = true
	}
	c.take(3)
}

// company reads the company prefix of a further purchase; length 9 says that
// there is none.
func (c *cursor) company() {
	if n := c.digit('0', '9'); n <= 6 {
		c.take(n + 6)
	} else if n != 9 {
		c.bad = true
	}
}

// date reads yymmdd. The century does not matter to the comparison below,
// because a coupon does not run for fifty years.
func (c *cursor) date() string {
	d := c.take(6)
	if !c.bad && checkDate(2000+two(d), two(d[2:]), two(d[4:]), false) != fine {
		c.bad = true
	}
	return d
}

// checkOffer checks a positive offer file coupon, AI (8112).
func checkOffer(v string) problem {
	if !allDigits(v) {
		return notDigit
	}
	c := cursor{rest: v}
	c.digit('0', '1')
	c.field('0', '6', 6)
	c.take(6)
	c.field('0', '9', 6)
	return when(c.bad || c.rest != "", badCoupon)
}

// checkCoupon checks a North American coupon, AI (8110).
func checkCoupon(v string) problem {
	if !allDigits(v) {
		return notDigit
	}
	c := cursor{rest: v}
	c.field('0', '6', 6) // company prefix
	c.take(6)            // offer code
	c.field('1', '5', 0) // save value
	c.purchase()
	var ends, starts string
	last := byte('0')
	for c.rest != "" && !c.bad {
		kind := c.take(1)
		if kind[0] <= last {
			return badCoupon // the optional fields stand in the order of their numbers
		}
		last = kind[0]
		switch kind {
		case "1":
			c.digit('0', '3')
			c.purchase()
			c.company()
		case "2":
			c.purchase()
			c.company()
		case "3":
			ends = c.date()
		case "4":
			starts = c.date()
		case "5":
			c.field('0', '9', 6)
		case "6":
			c.field('1', '7', 6)
		case "9":
			if code := c.digit('0', '6'); code == 3 || code == 4 {
				c.bad = true
			}
			c.digit('0', '2')
			c.take(1)
			c.digit('0', '1')
		default:
			return badCoupon
		}
	}
	return when(c.bad || ends != "" && starts != "" && ends < starts, badCoupon)
}
