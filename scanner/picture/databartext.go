package picture

import (
	"fmt"
	"strings"
)

// expandedBits are the data bits of a DataBar Expanded symbol, and the place up
// to which they were read.
type expandedBits struct {
	b  []byte
	at int
}

func (e *expandedBits) add(v, n int) {
	for i := n - 1; i >= 0; i-- {
		e.b = append(e.b, byte(v>>i&1))
	}
}

func (e *expandedBits) left() int { return len(e.b) - e.at }

// peek returns the next n bits; those beyond the end are 0.
func (e *expandedBits) peek(n int) int {
	v := 0
	for i := e.at; i < e.at+n; i++ {
		v <<= 1
		if i < len(e.b) {
			v |= int(e.b[i])
		}
	}
	return v
}

func (e *expandedBits) take(n int) int {
	v := e.peek(n)
	e.at += n
	return v
}

// text decodes the bits by the encodation method that they begin with (ISO/IEC
// 24724 clause 7.2.5). chars is the number of characters of the symbol, which
// two of the bits must agree with, where they are.
func (e *expandedBits) text(chars int) (string, bool) {
	linked := e.take(1) == 1
	if linked {
		return "", false // a composite component carries the rest, and isn't read
	}
	var t strings.Builder
	switch {
	case e.peek(1) == 1: // GTIN and more
		e.at++
		if !e.sized(chars) {
			return "", false
		}
		if !e.gtin(&t, -1) || !e.general(&t) {
			return "", false
		}
	case e.peek(2) == 0: // anything
		e.at += 2
		if !e.sized(chars) || !e.general(&t) {
			return "", false
		}
	case e.peek(4) == 4: // weight in grams
		e.at += 4
		if !e.gtin(&t, 9) {
			return "", false
		}
		fmt.Fprintf(&t, "3103%06d", e.take(15))
	case e.peek(4) == 5: // weight in hundredths or thousandths of a pound
		e.at += 4
		if !e.gtin(&t, 9) {
			return "", false
		}
		if w := e.take(15); w < 10000 {
			fmt.Fprintf(&t, "3202%06d", w)
		} else {
			fmt.Fprintf(&t, "3203%06d", w-10000)
		}
	case e.peek(5) == 12, e.peek(5) == 13: // price, with currency
		currency := e.take(5) == 13
		if !e.sized(chars) || !e.gtin(&t, 9) {
			return "", false
		}
		fmt.Fprintf(&t, "39%d%d", 2+btoi(currency), e.take(2))
		if currency {
			fmt.Fprintf(&t, "%03d", e.take(10))
		}
		if !e.general(&t) {
			return "", false
		}
	case e.peek(4) == 7: // weight and date
		if !e.weightAndDate(&t) {
			return "", false
		}
	default:
		return "", false
	}
	return strings.TrimRight(t.String(), string(separator)), e.at <= len(e.b)
}

// sized reads the two bits that say whether the symbol has an odd number of
// characters, and whether more than 14.
func (e *expandedBits) sized(chars int) bool {
	return e.take(2) == chars%2<<1|btoi(chars > 14)
}

// gtin reads twelve digits in groups of three, and before them the first one,
// unless it is given.
func (e *expandedBits) gtin(t *strings.Builder, first int) bool {
	if first < 0 {
		if first = e.take(4); first > 9 {
			return false
		}
	}
	d := fmt.Sprint(first)
	for range 4 {
		v := e.take(10)
		if v > 999 {
			return false
		}
		d += fmt.Sprintf("%03d", v)
	}
	t.WriteString("01" + withCheckDigit(d))
	return true
}

func (e *expandedBits) weightAndDate(t *strings.Builder) bool {
	method := e.take(7) - 56
	if !e.gtin(t, 9) {
		return false
	}
	w := e.take(20)
	fmt.Fprintf(t, "3%d0%d%06d", 1+method%2, w/100000, w%100000)
	d := e.take(16)
	if d == 38400 { // no date
		return w/100000 <= 9
	}
	year, month, day := d/384, d/32%12+1, d%32
	fmt.Fprintf(t, "1%d%02d%02d%02d", 1+method/2*2, year, month, day)
	return w/100000 <= 9 && year <= 99
}

// general decodes the part that can hold anything, in three modes: numeric,
// letters, and all of ISO 646 that GS1 uses.
func (e *expandedBits) general(t *strings.Builder) bool {
	const numeric, alpha, iso = 0, 1, 2
	mode := numeric
	for e.left() > 0 {
		switch {
		case mode == numeric && e.left() < 4:
			return e.take(e.left()) == 0
		case mode == numeric && e.left() < 7: // one digit, or pad
			if v := e.take(4); v > 10 {
				return false
			} else if v > 0 {
				t.WriteByte('0' + byte(v-1))
			}
			e.at = len(e.b)
		case mode == numeric && e.peek(4) == 0:
			e.at += 4
			mode = alpha
		case mode == numeric:
			v := e.take(7) - 8
			for _, d := range [2]int{v / 11, v % 11} {
				if d == 10 {
					t.WriteByte(separator)
				} else {
					t.WriteByte('0' + byte(d))
				}
			}
		case e.left() < 3:
			e.at = len(e.b)
		case e.peek(3) == 0:
			e.at += 3
			mode = numeric
		case e.left() < 5:
			e.at = len(e.b) // the beginning of a pad
		case e.peek(5) == 4:
			e.at += 5
			mode = alpha + iso - mode
		case e.peek(5) == 15: // FNC1, and on with numbers
			e.at += 5
			t.WriteByte(separator)
			mode = numeric
		case e.peek(5) >= 5 && e.peek(5) < 15:
			t.WriteByte('0' + byte(e.take(5)-5))
		default:
			c, ok := e.letter(mode == iso)
			if !ok {
				return false
			}
			t.WriteByte(c)
		}
	}
	return true
}

// letter decodes one character that is no digit.
func (e *expandedBits) letter(iso bool) (byte, bool) {
	if !iso {
		v := e.take(6)
		switch {
		case v >= 32 && v < 58:
			return byte('A' + v - 32), true
		case v >= 58 && v < 63:
			return "*,-./"[v-58], true
		}
		return 0, false
	}
	switch v := e.peek(7); {
	case v >= 64 && v < 90:
		e.at += 7
		return byte('A' + v - 64), true
	case v >= 90 && v < 116:
		e.at += 7
		return byte('a' + v - 90), true
	}
	const other = "!\"%&'()*+,-./:;<=>?_ "
	if v := e.take(8) - 232; v >= 0 && v < len(other) {
		return other[v], true
	}
	return 0, false
}
