package picture

import "errors"

// Code words of Code 128 (ISO/IEC 15417 table 1). 0 to 95 are characters in
// sets A and B, 0 to 99 digit pairs in set C.
const (
	c128FNC3   = 96
	c128FNC2   = 97
	c128Shift  = 98
	c128CodeC  = 99
	c128CodeB  = 100 // in set B: FNC4
	c128CodeA  = 101 // in set A: FNC4
	c128FNC1   = 102
	c128StartA = 103
	c128StartB = 104
	c128StartC = 105
	c128Stop   = 106
)

var errCode128 = errors.New("not a valid Code 128 code word sequence")

// code128Text turns the code words of one symbol, from start to stop, into its
// symbology identifier and text.
//
// gozxing does this too, and not well enough: without its GS1 hint it drops
// every separator, so that a lot runs into the serial behind it; with the hint
// it takes the check character as data, which then may add a separator or
// change the identifier. So only its code words are used.
//
// The identifier is by ISO/IEC 15424: "]C1" with FNC1 first, "]C2" with FNC1
// second, "]C0" otherwise. Code words with FNC4 stand for ISO 8859-1.
func code128Text(words []byte) (symbology, text string, err error) {
	if len(words) < 4 || words[len(words)-1] != c128Stop {
		return "", "", errCode128
	}
	sum := int(words[0])
	for i := 1; i < len(words)-2; i++ {
		sum += i * int(words[i])
	}
	if sum%103 != int(words[len(words)-2]) {
		return "", "", errCode128
	}
	set := words[0]
	if set < c128StartA || set > c128StartC {
		return "", "", errCode128
	}
	d := code128Decoder{symbology: "]C0"}
	for i, w := range words[1 : len(words)-2] {
		now := set
		if d.shift {
			now = c128StartA + c128StartB - set
			d.shift = false
		}
		next, ok := d.word(now, w, i)
		if !ok {
			return "", "", errCode128
		}
		if next != 0 {
			set = next
		}
	}
	return d.symbology, string(d.text), nil
}

type code128Decoder struct {
	symbology     string
	text          []rune
	shift         bool // the next word is in the other of sets A and B
	high, highOne bool // FNC4: latched, and for one character
}

// word takes one code word in a set and returns the set that it changes to, or
// 0.
func (d *code128Decoder) word(set, w byte, position int) (next byte, ok bool) {
	if set == c128StartC {
		switch {
		case w < 100:
			d.text = append(d.text, '0'+rune(w/10), '0'+rune(w%10))
		case w == c128FNC1:
			d.fnc1(position)
		case w == c128CodeA:
			return c128StartA, true
		case w == c128CodeB:
			return c128StartB, true
		default:
			return 0, false
		}
		return 0, true
	}
	switch {
	case w < 96:
		d.character(set, w)
	case w == c128FNC1:
		d.fnc1(position)
	case w == c128FNC2, w == c128FNC3:
		// Message append and reader programming: no text of their own.
	case w == c128Shift:
		d.shift = true
	case w == c128CodeC:
		return c128StartC, true
	case w == c128CodeB && set == c128StartA:
		return c128StartB, true
	case w == c128CodeA && set == c128StartB:
		return c128StartA, true
	case w == c128CodeB, w == c128CodeA: // FNC4 in its own set
		if d.highOne {
			d.high = !d.high
		}
		d.highOne = !d.highOne
	default:
		return 0, false
	}
	return 0, true
}

func (d *code128Decoder) character(set, w byte) {
	r := rune(w) + ' '
	if set == c128StartA && w >= 64 {
		r = rune(w) - 64
	}
	if d.high != d.highOne {
		r += 128
	}
	d.highOne = false
	d.text = append(d.text, r)
}

// fnc1 is a separator, unless it stands first and marks GS1-128, or second,
// after one letter or two digits, and marks another application standard
// (ISO/IEC 15417, annex B).
func (d *code128Decoder) fnc1(position int) {
	switch {
	case position == 0:
		d.symbology = "]C1"
	case len(d.text) <= 2 && position <= 2 && d.symbology == "]C0" && isSecondPosition(d.text):
		d.symbology = "]C2"
	default:
		d.text = append(d.text, separator)
	}
}

func isSecondPosition(t []rune) bool {
	letter := func(r rune) bool { return r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z' }
	digit := func(r rune) bool { return r >= '0' && r <= '9' }
	return len(t) == 1 && letter(t[0]) || len(t) == 2 && digit(t[0]) && digit(t[1])
}
