package picture

import (
	"strconv"
	"strings"
)

// A dmText turns the data code words of a DataMatrix into text (ISO/IEC 16022
// clause 5.2). gozxing does this too, but takes the number of an ECI for
// characters, and the header of a structured append for text, and mixes bytes
// with characters where some are above 127.
type dmText struct {
	words  []byte
	at     int
	body   charsetText
	fnc1   byte // 0 none, 2 in the first place, 3 in the second
	first  int  // where the data begins: behind the header of a structured append
	macro  bool
	eci    bool
	failed bool
}

// dmDecode returns the symbology modifier (ISO/IEC 15424: 1 to 6), the text
// without the FNC1 that says what the text is, and how many words it took, with
// the first pad.
func dmDecode(words []byte) (modifier int, text string, used int, ok bool) {
	d := &dmText{words: words}
	if len(words) > 0 && words[0] == 233 {
		d.at, d.first = 4, 4
	}
	for d.at < len(d.words) && !d.failed {
		if d.ascii() {
			break
		}
	}
	if d.macro {
		d.body.add("\x1e\x04")
	}
	text, known := d.body.text()
	if d.failed || !known || text == "" {
		return 0, "", 0, false
	}
	modifier = max(1, int(d.fnc1))
	if d.eci {
		modifier += 3
	}
	return modifier, text, d.at, true
}

func (d *dmText) put(b byte) { d.body.bytes = append(d.body.bytes, b) }

// next returns the next word, or fails.
func (d *dmText) next() int {
	if d.at >= len(d.words) {
		d.failed = true
		return 0
	}
	d.at++
	return int(d.words[d.at-1])
}

func (d *dmText) left() int { return len(d.words) - d.at }

// ascii takes one word of the mode that every other returns to; it reports the
// end.
func (d *dmText) ascii() (end bool) {
	switch w := d.next(); {
	case w == 0:
		d.failed = true
	case w <= 128:
		d.put(byte(w - 1))
	case w == 129: // pad
		return true
	case w <= 229:
		d.put('0' + byte((w-130)/10))
		d.put('0' + byte((w-130)%10))
	case w == 230:
		d.triples(c40Set)
	case w == 231:
		d.base256()
	case w == 232:
		d.markFNC1()
	case w == 235: // upper shift
		v := d.next()
		d.failed = d.failed || v == 0 || v > 128
		d.put(byte(v + 127))
	case (w == 236 || w == 237) && d.at-1 == d.first:
		d.body.add("[)>\x1e0" + strconv.Itoa(w-231) + "\x1d")
		d.macro = true
	case w == 238:
		d.triples(x12Set)
	case w == 239:
		d.triples(textSet)
	case w == 240:
		d.edifact()
	case w == 241:
		d.body.charset(d.eciNumber())
		d.eci = true
	case w == 254 && d.left() == 0: // some encoders end so
	case w == 234 && d.at-1 == d.first: // the text is meant to set up a reader
	default: // what the standard leaves unused
		d.failed = true
	}
	return false
}

// markFNC1 is a separator, unless it stands first and says GS1, or second, after
// one letter or two digits, and names another application standard.
func (d *dmText) markFNC1() {
	second := []rune(string(d.body.bytes))
	switch {
	case d.at-1 == d.first:
		d.fnc1 = 2
	case d.at-2 == d.first && d.fnc1 == 0 && !d.eci && isSecondPosition(second):
		d.fnc1 = 3
	default:
		d.put(separator)
	}
}

// lateFNC1 is an FNC1 within C40 or Text. Before any text it is taken to say
// GS1, though the standard has that in ASCII.
func (d *dmText) lateFNC1() {
	if len(d.body.bytes) == 0 && d.fnc1 == 0 && !d.eci {
		d.fnc1 = 2
		return
	}
	d.put(separator)
}

func (d *dmText) eciNumber() int {
	switch a := d.next(); {
	case a >= 1 && a <= 127:
		return a - 1
	case a >= 128 && a <= 191:
		return (a-128)*254 + d.next() - 1 + 127
	case a >= 192 && a <= 207:
		b := d.next()
		return (a-192)*64516 + (b-1)*254 + d.next() - 1 + 16383
	}
	d.failed = true
	return 0
}

// A dmSet is one of the modes that pack three values into two words.
type dmSet int

const (
	c40Set dmSet = iota
	textSet
	x12Set
)

const (
	dmShift2 = "!\"#$%&'()*+,-./:;<=>?@[\\]^_"
	dmDigits = "0123456789"
	dmUpper  = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
)

// basic are the characters of a set's values from 3 on; before them stand the
// three shifts, or in X12 CR * >.
func (s dmSet) basic() string {
	if s == textSet {
		return " " + dmDigits + strings.ToLower(dmUpper)
	}
	return " " + dmDigits + dmUpper
}

// triples takes words two by two until the unlatch or the end. A last single
// word is ASCII.
func (d *dmText) triples(set dmSet) {
	shift, high := 0, byte(0)
	emit := func(b byte) {
		d.put(b + high)
		high, shift = 0, 0
	}
	for d.left() >= 2 && !d.failed {
		if d.words[d.at] == 254 {
			d.at++
			return
		}
		v := d.next()<<8 + d.next() - 1
		for _, c := range [3]int{v / 1600, v / 40 % 40, v % 40} {
			switch {
			case v < 0 || v >= 64000:
				d.failed = true
			case shift == 0 && c < 3 && set == x12Set:
				emit("\r*>"[c])
			case shift == 0 && c < 3:
				shift = c + 1
			case shift == 0:
				emit(set.basic()[c-3])
			case shift == 1 && c < 32:
				emit(byte(c))
			case shift == 2 && c < len(dmShift2):
				emit(dmShift2[c])
			case shift == 2 && c == 27:
				d.lateFNC1()
				shift = 0
			case shift == 2 && c == 30:
				high, shift = 128, 0
			case shift == 3 && c < 32 && set == textSet && c >= 1 && c <= 26:
				emit(dmUpper[c-1])
			case shift == 3 && c < 32:
				emit(byte(c) + 96)
			default:
				d.failed = true
			}
		}
	}
	if d.left() == 1 && d.words[d.at] == 254 {
		d.at++
	}
}

// edifact takes three words as four characters of six bits.
func (d *dmText) edifact() {
	for d.left() > 2 {
		v := d.next()<<16 | d.next()<<8 | d.next()
		for i := range 4 {
			c := byte(v>>(18-6*i)) & 63
			if c == 31 { // unlatch; the rest of its word is empty
				d.at -= [4]int{2, 1, 0, 0}[i]
				return
			}
			d.put((c^32)&63 + 32)
		}
	}
}

func (d *dmText) base256() {
	n := d.unmask()
	switch {
	case n == 0:
		n = d.left()
	case n >= 250:
		n = 250*(n-249) + d.unmask()
	}
	for ; n > 0 && !d.failed; n-- {
		d.put(byte(d.unmask()))
	}
}

// unmask undoes the scrambling of byte words, which depends on their place
// (ISO/IEC 16022 annex B.2).
func (d *dmText) unmask() int {
	return (d.next() - (149*d.at%255 + 1) + 256) % 256
}
