package inventory

import (
	"cmp"
	"fmt"
	"strings"
	"unicode/utf8"
)

// A range of lot numbers is plain only where digits alone change, in one place,
// over the same number of digits: A0100 to A0250. With letters that change, or
// digits in two places, people order them in more than one way, and a notice
// does not say which it means. So a lot is taken as meant only where every
// reading agrees, and is in doubt where one of them has it between.

// matchRange says whether a lot lies from one number to another.
func matchRange(from, to, n string) (Verdict, string) {
	words := fmt.Sprintf("%s to %s", from, to)
	if n == from || n == to {
		return Meant, "it is a bound of " + words
	}
	if plain, in := plainRange(from, to, n); plain {
		if in {
			return Meant, "it lies between " + words
		}
		return NotMeant, "it does not lie between " + words
	}
	for _, r := range []struct {
		cmp  func(a, b string) int
		fold func(string) string
		why  string
	}{
		{naturalCompare, plainly, "letters or several groups of digits change in the range %s, and in one way of ordering it lies between"},
		{strings.Compare, plainly, "in the order of a dictionary it lies between %s, which may not be meant"},
		{naturalCompare, confusedForm, "but for what people confuse it lies between %s"},
		{naturalCompare, alike, "but for what people confuse it lies between %s"},
	} {
		f, t, m := r.fold(from), r.fold(to), r.fold(n)
		if r.cmp(f, m) <= 0 && r.cmp(m, t) <= 0 {
			return Doubtful, fmt.Sprintf(r.why, words)
		}
	}
	return NotMeant, "it does not lie between " + words
}

func plainly(s string) string { return s }

// plainRange reports whether a range and a lot differ in the digits of one
// place only, and if so whether the lot lies between.
func plainRange(from, to, n string) (plain, in bool) {
	f, t, m := runs(from), runs(to), runs(n)
	if len(f) != len(t) || len(f) != len(m) {
		return false, false
	}
	at := -1
	for i := range f {
		if f[i] == t[i] && f[i] == m[i] {
			continue
		}
		if at >= 0 || !digits(f[i]) || !digits(t[i]) || !digits(m[i]) {
			return false, false
		}
		at = i
	}
	if at < 0 {
		return true, true
	}
	a, b, c := f[at], t[at], m[at]
	if len(a) != len(b) || len(a) != len(c) {
		// Without leading zeros 99 comes before 101, and nobody reads it
		// otherwise; with them a lot may be written in two ways.
		for _, s := range []string{a, b, c} {
			if len(s) > 1 && s[0] == '0' {
				return false, false
			}
		}
	}
	return true, compareDigits(a, c) <= 0 && compareDigits(c, b) <= 0
}

// runs splits a text into runs of digits and runs of what is not.
func runs(s string) []string {
	var list []string
	start := 0
	for i := 1; i <= len(s); i++ {
		if i == len(s) || isDigit(s[i]) != isDigit(s[i-1]) {
			list = append(list, s[start:i])
			start = i
		}
	}
	return list
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }

func digits(s string) bool { return s != "" && isDigit(s[0]) }

// compareDigits compares two runs of digits as numbers.
func compareDigits(a, b string) int {
	a, b = strings.TrimLeft(a, "0"), strings.TrimLeft(b, "0")
	return cmp.Or(cmp.Compare(len(a), len(b)), strings.Compare(a, b))
}

// naturalCompare orders texts with runs of digits as numbers.
func naturalCompare(a, b string) int {
	x, y := runs(a), runs(b)
	for i := range min(len(x), len(y)) {
		c := strings.Compare(x[i], y[i])
		if digits(x[i]) && digits(y[i]) {
			c = compareDigits(x[i], y[i])
		}
		if c != 0 {
			return c
		}
	}
	return cmp.Compare(len(x), len(y))
}

// LooksLike reports whether two different lot numbers are the same but for what
// people and printers confuse. It goes further than Fold: a published notice
// printed one lot as 04015309 and as 04D15309. Whoever asks shows it to a
// person and never takes one for the other.
func LooksLike(a, b string) bool {
	if a == b {
		return false
	}
	first := true
	for i, j := 0, 0; ; first = false {
		x, nextI := nextAlike(a, i, first)
		y, nextJ := nextAlike(b, j, first)
		if x != y {
			return false
		}
		if x == 0 {
			return !first
		}
		i, j = nextI, nextJ
	}
}

// nextAlike returns the next character of a lot number in which everything that
// is confused is the same, 0 at its end, and where to go on. Zeros in front of
// the first are passed over.
func nextAlike(s string, i int, first bool) (rune, int) {
	for i < len(s) {
		r, n := utf8.DecodeRuneInString(s[i:])
		i += n
		r, ok := foldRune(r)
		if !ok {
			continue
		}
		if digit, ok := confused[r]; ok {
			r = digit
		}
		if r != '0' || !first {
			return r, i
		}
	}
	return 0, i
}

// confused are the letters that are read as digits, beyond those of Fold:
// common practice, no source, but for D (see LooksLike).
var confused = map[rune]rune{'D': '0', 'Q': '0', 'S': '5', 'B': '8', 'Z': '2', 'G': '6'}

// alike is the form of a lot number in which everything that is confused is the
// same.
func alike(s string) string { return strings.TrimLeft(confusedForm(s), "0") }

// confusedForm is alike, with the zeros in front.
func confusedForm(s string) string {
	b := make([]byte, 0, len(s))
	for i, r := 0, rune(0); ; {
		if r, i = nextAlike(s, i, false); r == 0 {
			return string(b)
		}
		b = utf8.AppendRune(b, r)
	}
}
