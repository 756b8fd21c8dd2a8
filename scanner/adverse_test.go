package scanner_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"lotbook/scanner"
	"lotbook/scanner/gs1"
	"lotbook/scanner/hibc"
	"lotbook/scanner/wedge"
)

// A symbol is what one printed code holds, and what it says: the truth is what
// its exact text is read as, which other tests hold against reference libraries.
type symbol struct {
	id, text string
	truth    []scanner.Element
}

func (s symbol) is(els []scanner.Element) bool {
	return slices.EqualFunc(distinct(s.truth), distinct(els), func(a, b scanner.Element) bool { return a.AI == b.AI && a.Value == b.Value })
}

// distinct puts elements in order and drops repeats.
func distinct(els []scanner.Element) []scanner.Element {
	els = slices.SortedFunc(slices.Values(els), func(a, b scanner.Element) int { return strings.Compare(a.AI+a.Value, b.AI+b.Value) })
	return slices.Compact(els)
}

func symbolOf(id, text string) symbol {
	c := scanner.FromSymbol(id, text, opts)
	if c.Error != nil || c.Carrier == scanner.CarrierPlain || len(c.Candidates) > 0 {
		panic(fmt.Sprintf("%s %q: %+v", id, text, c))
	}
	return symbol{id, text, c.Elements}
}

func digitsWithCheck(body string) string {
	c, _ := gs1.CheckDigit(body)
	return body + string(c)
}

func hibcWithCheck(body string) string {
	c, ok := hibc.CheckChar(body)
	if !ok {
		panic(body)
	}
	return body + string(c)
}

// The kinds of symbols that packs carry.
var kinds = []string{"gs1", "gs1 without product", "ean-13", "itf-14", "hibc primary", "hibc secondary", "hibc combined", "iccbba", "digital link"}

func someSymbol(r *rand.Rand, kind string) symbol {
	lot := func() string { return fill(r, masks[r.IntN(len(masks))]) }
	switch kind {
	case "gs1":
		return symbolOf([]string{"]d2", "]C1", "]Q3", "]e0", "]J1"}[r.IntN(5)], someLabel(r).encode())
	case "gs1 without product":
		return symbolOf("]C1", "17280131"+"10"+lot())
	case "ean-13":
		return symbolOf("]E0", digitsWithCheck("950"+fill(r, "999999999")))
	case "itf-14":
		return symbolOf("]I1", digitsWithCheck(fill(r, "9")+"950"+fill(r, "999999999")))
	case "hibc primary":
		return symbolOf("]A0", hibcWithCheck("+A"+fill(r, "XXX")+fill(r, "XXXXXX")+"1"))
	case "hibc secondary":
		return symbolOf("]A0", hibcWithCheck("+$$3280928"+fill(r, "XXXXXX")+"L"))
	case "hibc combined":
		return symbolOf("]A0", hibcWithCheck("+A"+fill(r, "XXX")+fill(r, "XXXXXX")+"1/$$3280928"+fill(r, "XXXXXX")))
	case "iccbba":
		return symbolOf("]C0", "=/A9999"+fill(r, "XXXXX")+"000944"+"=,"+fill(r, "999999")+"=>028032"+"&,1"+"0000000000000"+fill(r, "XXXXX"))
	default:
		return symbolOf("]Q1", "https://id.gs1.org/01/"+someGTIN(r)+"/10/"+strings.ReplaceAll(lot(), "/", "%2F")+"?17=280131")
	}
}

// wrong says how codes that were read from a text with some symbols in it are
// silently wrong; "" if they are right, in doubt, or not read. A code in doubt
// must list a true reading: one of its symbol's, or of several joined.
var cut int

func wrong(cs []scanner.Code, truth ...symbol) string {
	if len(cs) > len(truth) {
		return "more codes than symbols"
	}
	for i, c := range cs {
		if c.Error != nil || c.Carrier == scanner.CarrierPlain {
			continue
		}
		ways := truth[i : i+1]
		var j *symbol
		if len(cs) < len(truth) {
			ways = truth
			if j = joined(truth); j != nil {
				ways = append(slices.Clone(ways), *j)
			}
		}
		right := func(els []scanner.Element) bool {
			return slices.ContainsFunc(ways, func(s symbol) bool { return s.is(els) })
		}
		switch {
		case len(c.Candidates) == 0 && !right(c.Elements):
			return fmt.Sprintf("silently read as %v", c.Elements)
		case len(c.Candidates) == 0 && len(cs) < len(truth) && (j == nil || !j.is(c.Elements)):
			return "a symbol was dropped"
		case slices.ContainsFunc(c.Warnings, func(w scanner.Warning) bool { return w.Code == "readings_cut" }):
			cut++ // there are more than can be listed, and that is said
		case len(c.Candidates) > 0 && !slices.ContainsFunc(c.Candidates, func(k scanner.Candidate) bool { return right(k.Elements) }):
			return fmt.Sprintf("not among %v", c.Candidates)
		case len(c.Candidates) > 0 && len(c.Warnings) == 0:
			return "in doubt without a word"
		}
	}
	return ""
}

func joined(truth []symbol) *symbol {
	var cs []scanner.Code
	for _, s := range truth {
		cs = append(cs, scanner.FromSymbol(s.id, s.text, opts))
	}
	if j := scanner.Join(cs); len(j) == 1 {
		return &symbol{truth: j[0].Elements}
	}
	return nil
}

// invisible reports whether what arrives for a text is a text as valid as that:
// what begins it is as it was, and no character tells that keys are misplaced.
func invisible(arrives, text string) bool {
	if len(arrives) < 8 || len(text) < 8 {
		return false
	}
	if arrives[0] == '+' && text[0] == '+' {
		return true // Y and Z in each other's place don't change the check character
	}
	same := arrives[:4] == text[:4]
	legal := !strings.ContainsFunc(arrives, func(r rune) bool { return r > '~' || r != '\x1d' && r != '$' && r != '#' && !gs1.InSet82(byte(r)) })
	return same && legal
}

// setting returns a number from the environment: LOTBOOK_MANGLES is how often
// each mangling is tried, LOTBOOK_SEED what they are drawn from.
func setting(name string, usual int) int {
	if n, err := strconv.Atoi(os.Getenv(name)); err == nil {
		return n
	}
	return usual
}

// mangling draws symbols, and what arrives for them.
type mangling func(r *rand.Rand) (arrives string, truth []symbol)

var manglings = map[string]mangling{
	"separator replaced": func(r *rand.Rand) (string, []symbol) {
		s := someSymbol(r, "gs1")
		const marks = " !\"#$%&'()*+,-./:;<=>?@[\\]^_`{|}~"
		stands := []string{marks[:][r.IntN(len(marks)):][:1], string(rune(1 + r.IntN(31))), "\x00"}[r.IntN(3)]
		if r.IntN(2) == 0 {
			all := []string{"<GS>", "{GS}", "[GS]", `\F`, `\f`, `\F1`, `\x1d`, `\x1D`, `\u001d`, "^]", "<gs>", "029", "0029", "\u2194", "\u241d", "\u00e8", "%1D", "~d029", "\u00e2\u2020\u201d", "&#29;", "||", ""}
			stands = all[r.IntN(len(all))]
		}
		if strings.ContainsAny(stands, "\r\n\t") {
			stands = ""
		}
		text := strings.ReplaceAll(s.text, "\x1d", stands)
		if r.IntN(3) == 0 {
			text = s.id + text
		}
		return text + []string{"", "\r", "\r\n", "\t", " "}[r.IntN(5)], []symbol{s}
	},
	"layout": func(r *rand.Rand) (string, []symbol) {
		s := someSymbol(r, kinds[r.IntN(len(kinds))])
		all := wedge.Layouts()
		text := s.text
		if r.IntN(2) == 0 {
			text = s.id + text
		}
		for {
			typed, ok := wedge.Typed(strings.ReplaceAll(text, "\x1d", []string{"\x1d", ""}[r.IntN(2)]), all[r.IntN(len(all))], all[r.IntN(len(all))], wedge.CapsOff)
			if ok && !invisible(typed, text) {
				return typed, []symbol{s}
			}
			s = someSymbol(r, kinds[r.IntN(len(kinds))])
			text = s.text
		}
	},
	"layout and identifier": func(r *rand.Rand) (string, []symbol) {
		s := someSymbol(r, kinds[r.IntN(len(kinds))])
		all := wedge.Layouts()
		for {
			if typed, ok := wedge.Typed(s.id+s.text, all[r.IntN(len(all))], all[r.IntN(len(all))], []wedge.Caps{wedge.CapsOff, wedge.CapsOn, wedge.CapsShift}[r.IntN(3)]); ok {
				return typed, []symbol{s}
			}
		}
	},
	"Caps Lock": func(r *rand.Rand) (string, []symbol) {
		s := someSymbol(r, kinds[r.IntN(len(kinds))])
		text := s.text
		if r.IntN(2) == 0 {
			text = s.id + text
		}
		return wedge.SwapCase(text), []symbol{s}
	},
	"all capitals": func(r *rand.Rand) (string, []symbol) {
		s := someSymbol(r, kinds[r.IntN(len(kinds))])
		return strings.ToUpper(s.id + s.text), []symbol{s}
	},
	"all small": func(r *rand.Rand) (string, []symbol) {
		s := someSymbol(r, kinds[r.IntN(len(kinds))])
		return strings.ToLower(s.id + s.text), []symbol{s}
	},
	"identifier in the wrong case": func(r *rand.Rand) (string, []symbol) {
		s := someSymbol(r, kinds[r.IntN(len(kinds))])
		return wedge.SwapCase(s.id) + s.text, []symbol{s}
	},
	"start lost": func(r *rand.Rand) (string, []symbol) {
		s := someSymbol(r, kinds[r.IntN(len(kinds))])
		text := s.text
		if r.IntN(2) == 0 || strings.Trim(text, "0123456789") == "" { // other digits can be another number
			text = s.id + text
		}
		if r.IntN(3) == 0 {
			text = strings.ReplaceAll(text, "\x1d", "")
		}
		lost := 1
		if text[0] == ']' {
			lost = 1 + r.IntN(2) // of the identifier
		}
		if rest := text[lost:]; len(rest) <= 14 && strings.Trim(rest, "0123456789") == "" {
			return text, []symbol{s} // what is left can be another number
		}
		return text[lost:], []symbol{s}
	},
	"prefix": func(r *rand.Rand) (string, []symbol) {
		s := someSymbol(r, kinds[r.IntN(len(kinds))])
		prefix := []string{"\x02", "*", "#", "~", "S:", "SCAN", "A", "$", "\\", "\x1e", "b:"}[r.IntN(11)]
		return prefix + s.text, []symbol{s}
	},
	"two in one": func(r *rand.Rand) (string, []symbol) {
		a, b := someSymbol(r, kinds[r.IntN(len(kinds))]), someSymbol(r, kinds[r.IntN(len(kinds))])
		switch r.IntN(3) {
		case 0:
			return a.id + a.text + b.id + b.text, []symbol{a, b}
		case 1:
			return a.text + b.text, []symbol{a, b}
		default:
			return strings.ReplaceAll(a.text+b.text, "\x1d", ""), []symbol{a, b}
		}
	},
	"same code twice": func(r *rand.Rand) (string, []symbol) {
		a := someSymbol(r, kinds[r.IntN(len(kinds))])
		return a.text + a.text, []symbol{a, a}
	},
}

// However a code is mangled, it is read rightly, or it is in doubt and lists
// what is true, or it is refused. What no reader could see is left out: see the
// documentation of package wedge.
func TestAdverse(t *testing.T) {
	for name, mangle := range manglings {
		t.Run(name, func(t *testing.T) {
			r := rand.New(rand.NewPCG(uint64(setting("LOTBOOK_SEED", 11)), uint64(len(name))))
			bad, read, doubt, refused := 0, 0, 0, 0
			for range setting("LOTBOOK_MANGLES", 1_000) {
				text, truth := mangle(r)
				cs := scanner.Read(text, opts)
				if w := wrong(cs, truth...); w != "" {
					if bad++; bad <= 12 {
						t.Errorf("%q from %q: %s", text, texts(truth), w)
					}
				}
				for _, c := range cs {
					switch {
					case c.Error != nil || c.Carrier == scanner.CarrierPlain:
						refused++
					case len(c.Candidates) > 0:
						doubt++
					default:
						read++
					}
				}
			}
			t.Logf("%d wrong; %d read, %d in doubt, %d refused", bad, read, doubt, refused)
		})
	}
}

func texts(ss []symbol) []string {
	var out []string
	for _, s := range ss {
		out = append(out, s.id+s.text)
	}
	return out
}
