package picture

import "strings"

// A barKind is a symbology as the search of barbeam.go sees it: words of an
// alphabet between a beginning and an end.
type barKind struct {
	// lead is what a symbol begins with, whole words, so that there is enough
	// to know it by.
	lead *alphabet
	// next is the alphabet of the word at a place, counted from 0 behind the
	// lead; nil if there can be none.
	next func(place int) *alphabet
	// stop is what may follow so many words, or nil.
	stop func(words int) *alphabet
	// text checks words, the lead's first.
	text func(words []byte) (symbology, text string, ok bool)
	// modules is the width of the symbol where it is always the same, else 0.
	modules float64
	// clear is how many modules of clear space are wanted at either end, and
	// taken for a part of the symbol.
	clear int
	// votes is how many lines have to agree.
	votes int
}

// barKinds are the symbologies that are read this way: those with a check
// character, and a length or a beginning that other bars don't have by chance.
// Not UPC-E and EAN-8: half of an EAN-13 looks like either of them.
var barKinds = append([]*barKind{code128Kind(), ean13Kind()}, append(itf14Kinds(), hibc39Kinds()...)...)

func code128Kind() *barKind {
	var lead, words [][]float64
	for c, w := range code128Widths {
		switch {
		case c < c128StartA:
			words = append(words, floats(w))
		case c < c128Stop:
			lead = append(lead, floats(w))
		}
	}
	all, stop := newAlphabet(words), newAlphabet([][]float64{floats(code128Widths[c128Stop])})
	return &barKind{
		lead: newAlphabet(lead),
		next: func(int) *alphabet { return all },
		stop: func(n int) *alphabet {
			if n < 3 {
				return nil
			}
			return stop
		},
		text: func(words []byte) (string, string, bool) {
			w := append([]byte{words[0] + c128StartA}, words[1:]...)
			id, text, err := code128Text(append(w, c128Stop))
			return id, text, err == nil && text != ""
		},
		clear: 4,
		votes: 2,
	}
}

func floats(w []int) []float64 {
	out := make([]float64, len(w))
	for i, v := range w {
		out[i] = float64(v)
	}
	return out
}

// The digits of EAN and UPC in number set A, a space first (GS1 General
// Specifications figure 5.2.1.2-1; the other sets are its mirror images).
var eanDigits = widthsOf("3211 2221 2122 1411 1132 1231 1114 1312 1213 3112")

// eanParity is which of the six digits on the left are of set B, for each value
// of the first digit, which has no bars of its own (same place).
var eanParity = strings.Fields("AAAAAA AABABB AABBAB AABBBA ABAABB ABBAAB ABBBAA ABABAB ABABBA ABBABA")

func ean13Kind() *barKind {
	var first, left, middle, right [][]float64
	for _, d := range eanDigits {
		w := floats(d)
		first = append(first, append([]float64{1, 1, 1}, w...))
		left = append(left, append([]float64{0}, w...))
		middle = append(middle, append([]float64{0, 1, 1, 1, 1, 1}, w...))
		right = append(right, w)
	}
	for _, d := range eanDigits { // set B
		left = append(left, []float64{0, float64(d[3]), float64(d[2]), float64(d[1]), float64(d[0])})
	}
	l, m, r, end := newAlphabet(left), newAlphabet(middle), newAlphabet(right), newAlphabet([][]float64{{1, 1, 1}})
	return &barKind{
		lead: newAlphabet(first),
		next: func(place int) *alphabet {
			switch {
			case place < 5:
				return l
			case place == 5:
				return m
			case place < 11:
				return r
			}
			return nil
		},
		stop: func(n int) *alphabet {
			if n == 12 {
				return end
			}
			return nil
		},
		text:    ean13Text,
		modules: 95,
		clear:   5,
		votes:   3,
	}
}

// ean13Text takes twelve digits, the first six of set A or, 10 more, of set B.
func ean13Text(words []byte) (symbology, text string, ok bool) {
	if len(words) != 12 {
		return "", "", false
	}
	t, sets := make([]byte, 12), make([]byte, 6)
	for i, w := range words {
		t[i] = '0' + w%10
		if i < 6 {
			sets[i] = 'A' + w/10
		}
	}
	for d, p := range eanParity {
		if p == string(sets) {
			text = string(rune('0'+d)) + string(t)
			return "]E0", text, mod10(text)
		}
	}
	return "", "", false
}

// Wide elements of ITF and Code 39 are two to three times as wide as narrow
// ones; these are tried.
var wideRatios = [...]float64{2, 2.5, 3}

// itfDigits are the digits of Interleaved 2 of 5, 3 wide (ISO/IEC 16390 table 1).
var itfDigits = strings.Fields("11331 31113 13113 33111 11313 31311 13311 11133 31131 13131")

func itf14Kinds() (out []*barKind) {
	for _, wide := range wideRatios {
		var first, pairs [][]float64
		for n := range 100 {
			var w []float64
			for k := range 5 {
				w = append(w, element(itfDigits[n/10][k], wide), element(itfDigits[n%10][k], wide))
			}
			pairs = append(pairs, w)
			first = append(first, append([]float64{1, 1, 1, 1}, w...))
		}
		all, end := newAlphabet(pairs), newAlphabet([][]float64{{wide, 1, 1}})
		out = append(out, &barKind{
			lead: newAlphabet(first),
			next: func(place int) *alphabet {
				if place < 6 {
					return all
				}
				return nil
			},
			stop: func(n int) *alphabet {
				if n == 7 {
					return end
				}
				return nil
			},
			text: func(words []byte) (string, string, bool) {
				var t []byte
				for _, w := range words {
					t = append(t, '0'+w/10, '0'+w%10)
				}
				return "]I1", string(t), len(t) == 14 && mod10(string(t))
			},
			modules: 4 + 7*(6+4*wide) + 2 + wide,
			clear:   5,
			votes:   3,
		})
	}
	return out
}

func element(c byte, wide float64) float64 {
	if c == '1' {
		return 1
	}
	return wide
}

// code39Characters in the order of their values (ISO/IEC 16388), and their
// elements, 3 wide; the asterisk, which has no value, last.
const code39Characters = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-. $/+%"

var code39Elements = strings.Fields("" +
	"111331311 311311113 113311113 313311111 111331113 311331111 113331111 111311313 311311311 113311311 " +
	"311113113 113113113 313113111 111133113 311133111 113133111 111113313 311113311 113113311 111133311 " +
	"311111133 113111133 313111131 111131133 311131131 113131131 111111333 311111331 113111331 111131331 " +
	"331111113 133111113 333111111 131131113 331131111 133131111 131111313 331111311 133111311 131313111 " +
	"131311131 131113131 111313131 131131311")

// hibc39Kinds are Code 39 with a text of the health industry, since only that
// has a check character.
func hibc39Kinds() (out []*barKind) {
	for _, wide := range wideRatios {
		var words [][]float64
		for _, e := range code39Elements {
			var w []float64
			for k := range 9 {
				w = append(w, element(e[k], wide))
			}
			words = append(words, append(w, 1)) // the gap to the next
		}
		star := newAlphabet(words[43:])
		all := newAlphabet(words[:43])
		out = append(out, &barKind{
			lead: star,
			next: func(int) *alphabet { return all },
			stop: func(n int) *alphabet {
				if n < 7 {
					return nil
				}
				return star
			},
			text:  hibc39Text,
			clear: 5,
			votes: 2,
		})
	}
	return out
}

// hibc39Text checks the sum of all characters, modulo 43 (ANSI/HIBC 2.6).
func hibc39Text(words []byte) (symbology, text string, ok bool) {
	words = words[1:]
	sum := 0
	for i, w := range words {
		text += string(code39Characters[w])
		if i < len(words)-1 {
			sum += int(w)
		}
	}
	return "]A0", text, text[0] == '+' && sum%43 == int(words[len(words)-1])
}
