package scanner_test

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"lotbook/scanner"
	"lotbook/scanner/gs1"
	"lotbook/scanner/wedge"
)

// A label is what is printed: the truth that a reading is held against.
type label []scanner.Element

func (l label) elements() []gs1.Element {
	var out []gs1.Element
	for _, e := range l {
		a, _ := gs1.Lookup(e.AI)
		out = append(out, gs1.Element{AI: a, Value: e.Value})
	}
	return out
}

// encode writes the element string as a decoder transmits it.
func (l label) encode() string { return gs1.Format(l.elements()) }

func (l label) value(ai string) string {
	for _, e := range l {
		if e.AI == ai {
			return e.Value
		}
	}
	return ""
}

func (l label) is(els []scanner.Element) bool {
	return slices.EqualFunc(l, els, func(a, b scanner.Element) bool { return a.AI == b.AI && a.Value == b.Value })
}

func gtin(t *rapid.T) string {
	body := rapid.StringMatching(`[0-9]095[02][0-9]{8}`).Draw(t, "gtin")
	c, _ := gs1.CheckDigit(body)
	return body + string(c)
}

const (
	capitals = `[A-Z0-9][A-Z0-9-]{0,11}[A-Z0-9]`
	anyCase  = `[A-Za-z0-9][A-Za-z0-9./_-]{0,11}[A-Za-z0-9]`
	anything = `[!"%&'()*+,./0-9:;<=>?A-Z_a-z-]{1,20}`
)

// drawLabel makes a label of a product with a date, a lot and more, in the
// orders that are met.
func drawLabel(t *rapid.T, value string) label {
	l := label{{AI: "01", Value: gtin(t)}}
	rest := rapid.Permutation([]string{"17", "10", "21", "11", "30", "240"}).Draw(t, "order")
	for _, ai := range rest[:rapid.IntRange(1, 5).Draw(t, "count")] {
		v := ""
		switch ai {
		case "17", "11":
			v = rapid.StringMatching(`2[4-9](0[1-9]|1[0-2])(0[1-9]|1[0-9]|2[0-8])`).Draw(t, ai)
		case "30":
			v = rapid.StringMatching(`[1-9][0-9]{0,2}`).Draw(t, ai)
		default:
			v = rapid.StringMatching(value).Draw(t, ai)
		}
		l = append(l, scanner.Element{AI: ai, Value: v})
	}
	return l
}

// judge holds a reading against the truth. It must be right, or list the truth
// among its candidates and leave empty (or have chosen with a warning) what is
// in doubt. refusable says that an error is right too.
func judge(t fatal, l label, c scanner.Code, refusable bool) {
	switch {
	case c.Error != nil:
		if !refusable {
			t.Fatalf("%v refused: %v", l, c.Error)
		}
		if len(c.Elements)+len(c.Candidates) > 0 || c.Lot+c.Serial+c.GTIN+c.Expires != "" {
			t.Fatalf("%v: an error with something guessed: %+v", l, c)
		}
		return
	case len(c.Candidates) == 0:
		if !l.is(c.Elements) {
			t.Fatalf("silently wrong: %v was read as %v", l, c.Elements)
		}
	default:
		// Where six values run together can end almost anywhere, there are
		// more readings than are listed, and that is said.
		cut := len(c.Candidates) >= 100 && slices.ContainsFunc(c.Warnings, func(w scanner.Warning) bool { return w.Code == "readings_cut" })
		if !cut && !slices.ContainsFunc(c.Candidates, func(k scanner.Candidate) bool { return l.is(k.Elements) }) {
			t.Fatalf("%v is not among the %d candidates: %+v", l, len(c.Candidates), c.Candidates)
		}
		if len(c.Warnings) == 0 {
			t.Fatalf("%v: candidates without a warning", l)
		}
	}
	if c.Lot != "" && c.Lot != l.value("10") || c.Serial != "" && c.Serial != l.value("21") || c.GTIN != "" && c.GTIN != l.value("01") {
		if !slices.ContainsFunc(c.Warnings, func(w scanner.Warning) bool { return w.Code == "separator_stand_in" }) {
			t.Fatalf("%v: lot %q serial %q GTIN %q", l, c.Lot, c.Serial, c.GTIN)
		}
	}
}

func one(t *rapid.T, text string, o scanner.Options) scanner.Code {
	cs := scanner.Read(text, o)
	if len(cs) != 1 {
		t.Fatalf("%q: %d codes", text, len(cs))
	}
	return cs[0]
}

// Whatever stands in a label, its exact text is read as it is.
func TestExactLabels(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLabel(t, anything)
		c := scanner.FromSymbol("]d2", l.encode(), opts)
		if c.Error != nil || !l.is(c.Elements) || len(c.Candidates) > 0 {
			t.Fatalf("%v was read as %+v", l, c)
		}
	})
}

// Scanners end what they type, and put spaces and a separator around it.
func TestEnds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLabel(t, anything)
		text := rapid.SampledFrom([]string{"", " ", "\x1d", "]d2", "]C1", "]Q3"}).Draw(t, "before") + l.encode() +
			rapid.SampledFrom([]string{"", "\r", "\n", "\r\n", "\t", " ", "\x1d", "\x1d\r"}).Draw(t, "after")
		judge(t, l, one(t, text, opts), false)
	})
}

// standIns are what arrives for the separator.
var standIns = []string{"<GS>", "{GS}", "|", "@", "^]", "/", "_", "\u00e8", `\x1d`, "~", "#", "[GS]", "\u241d", "", "", ""}

// The separator is lost or replaced.
func TestLostSeparator(t *testing.T) {
	for name, pattern := range map[string]string{"capitals": capitals, "any case": anyCase, "anything": anything} {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				l := drawLabel(t, pattern)
				id := rapid.SampledFrom([]string{"", "", "]d2", "]C1"}).Draw(t, "id")
				text := strings.ReplaceAll(l.encode(), "\x1d", rapid.SampledFrom(standIns).Draw(t, "stand-in"))
				cs := scanner.Read(id+text, opts)
				if len(cs) != 1 {
					t.Fatalf("%q: %d codes", text, len(cs))
				}
				judge(t, l, cs[0], id != "")
			})
		})
	}
}

// With a profile there is no doubt, unless the stand-in is in the data too.
func TestProfiledSeparator(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLabel(t, capitals)
		sep := rapid.SampledFrom([]string{"<GS>", "/", "_", "|", "\u00e8", "\x1d"}).Draw(t, "stand-in")
		o := opts
		o.Profile = wedge.Profile{Separator: sep, CapsLock: wedge.CapsOff, Prefix: rapid.SampledFrom([]string{"", "*", "SCAN:"}).Draw(t, "prefix")}
		c := one(t, o.Profile.Prefix+strings.ReplaceAll(l.encode(), "\x1d", sep), o)
		if c.Error != nil || !l.is(c.Elements) || len(c.Candidates) > 0 {
			t.Fatalf("%v with %+v was read as %+v", l, o.Profile, c)
		}
	})
}

// Caps Lock shows by the symbology identifier, and without one where all
// letters are small.
func TestCapsLock(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		id := rapid.SampledFrom([]string{"]d2", "]C1", "]Q3", "]e0", "]J1", ""}).Draw(t, "id")
		pattern := anyCase
		if id == "" {
			pattern = capitals
		}
		l := drawLabel(t, pattern)
		c := one(t, wedge.SwapCase(id+l.encode()), opts)
		judge(t, l, c, false)
	})
}

// A scanner set for one layout on a computer set for another. Only what leaves a
// trace can be seen: a symbology identifier, or digits that are none.
func TestLayouts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLabel(t, `[A-Za-z0-9][A-Za-z0-9./-]{0,11}[A-Za-z0-9]`)
		from := rapid.SampledFrom([]wedge.Layout{wedge.US, wedge.German, wedge.French}).Draw(t, "scanner")
		to := rapid.SampledFrom([]wedge.Layout{wedge.US, wedge.German, wedge.French}).Draw(t, "computer")
		typed, ok := wedge.Translate("]d2"+l.encode(), to, from) // the inverse direction is typing
		if !ok || from == to || from == wedge.German {
			t.Skip("nothing changes, or the layout has no key for it")
		}
		cs := scanner.Read(typed, opts)
		if len(cs) != 1 {
			t.Fatalf("%q: %d codes", typed, len(cs))
		}
		judge(t, l, cs[0], false)
		o := opts
		o.Profile = wedge.Profile{Scanner: from, Host: to}
		if c := one(t, typed, o); c.Error != nil || !l.is(c.Elements) {
			t.Fatalf("%v by profile: %+v", l, c)
		}
	})
}

// Two symbols arrive as one line.
func TestTwoInOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawLabel(t, capitals), drawLabel(t, capitals)
		between := rapid.SampledFrom([]string{"]C1", "]d2", "\r", "\t"}).Draw(t, "between")
		first := rapid.SampledFrom([]string{"]C1", "]d2"}).Draw(t, "first")
		cs := scanner.Read(first+a.encode()+between+b.encode(), opts)
		if len(cs) != 2 {
			t.Fatalf("%d codes: %+v", len(cs), cs)
		}
		judge(t, a, cs[0], false)
		judge(t, b, cs[1], false)
	})
}

// Order and masks of earlier scans single the reading out.
// Two codes of which the second is no label of its own, run together: each of
// these was once read as one code, without a word, with a lot that no pack has.
func TestSecondCodeInAValue(t *testing.T) {
	for _, text := range []string{
		"01595251556790561126123021MV467310UPKVUC172801311051I94",
		"015950202552103521PQ/UR10YB/4C1728013110MJD-595",
		"019952941656204824058630582\x1d91854P172801311066",
		"+A5YOQ6JJP21/9507157939029",
		"+A2AF1ZNZKJ1/1728013110N646",
		"+$$3280928R1L4S4L%17280131106397956767",
	} {
		cs := scanner.Read(text, opts)
		for _, c := range cs {
			if c.Error == nil && len(c.Candidates) == 0 {
				t.Errorf("%q is read as %v without a word", text, c.Elements)
			}
		}
		if len(cs) == 0 {
			t.Errorf("%q gives nothing", text)
		}
	}
}

func TestKnownProduct(t *testing.T) {
	asked, chosen := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		shape := rapid.SampledFrom([]string{`[A-Z]{2}[0-9]{4}`, `[0-9]{6}`, `[A-Z][0-9]{3}[A-Z]`}).Draw(t, "shape")
		l := label{
			{AI: "01", Value: gtin(t)},
			{AI: "17", Value: "271231"},
			{AI: "10", Value: rapid.StringMatching(shape).Draw(t, "lot")},
			{AI: "21", Value: rapid.StringMatching(`[0-9]{8}`).Draw(t, "serial")},
		}
		earlier := slices.Clone(l)
		earlier[2].Value = rapid.StringMatching(shape).Draw(t, "earlier lot")
		earlier[3].Value = rapid.StringMatching(`[0-9]{8}`).Draw(t, "earlier serial")
		k := &wedge.Known{}
		k.Learn(earlier.elements())
		o := opts
		o.Known = func(gtin string) *wedge.Known {
			if gtin != l[0].Value {
				t.Fatalf("asked for %q", gtin)
			}
			return k
		}
		c := one(t, strings.ReplaceAll(l.encode(), "\x1d", ""), o)
		judge(t, l, c, false)
		asked++
		if c.Lot == l[2].Value && c.Serial == l[3].Value {
			chosen++
		} else if c.Lot != "" {
			t.Fatalf("chosen wrongly: %+v", c)
		}
	})
	if chosen*100 < asked*90 {
		t.Errorf("chosen in %d of %d, want at least 90%%", chosen, asked)
	}
}

// Whatever was learned of a product, also from labels of other layouts, nothing
// is read wrongly without a word: the true reading stands among the candidates,
// and where it looks like those before, none but it is taken.
func TestLearnedProduct(t *testing.T) {
	taken, wrong, unlike, cases := 0, 0, 0, 0
	rapid.Check(t, func(t *rapid.T) {
		l := drawLabel(t, capitals)
		var k wedge.Known
		for range rapid.IntRange(1, 4).Draw(t, "earlier") {
			e := drawLabel(t, capitals)
			if rapid.Bool().Draw(t, "same layout") {
				e = like(t, l)
			}
			e[0].Value = l[0].Value
			k.Learn(e.elements())
		}
		o := opts
		o.Known = func(string) *wedge.Known { return &k }
		c := one(t, strings.ReplaceAll(l.encode(), "\x1d", ""), o)
		cases++
		known := slices.ContainsFunc(c.Warnings, func(w scanner.Warning) bool { return w.Code == "separator_known" })
		if !known {
			judge(t, l, c, false)
			return
		}
		taken++
		if len(c.Candidates) < 2 || !slices.ContainsFunc(c.Candidates, func(x scanner.Candidate) bool { return l.is(x.Elements) }) {
			t.Fatalf("%v is not among the candidates: %+v", l, c)
		}
		fits := k.Fits(l.elements())
		switch {
		case !fits:
			unlike++
			if !l.is(c.Elements) {
				wrong++
			}
		case !l.is(c.Elements):
			t.Fatalf("%v fits what is known, and %v was taken", l, c.Elements)
		}
	})
	t.Logf("%d of %d taken alone; %d of them on labels unlike those before, %d wrongly, each with a warning and the others beside it", taken, cases, unlike, wrong)
}

// like makes another label of the same layout and shapes.
func like(t *rapid.T, l label) label {
	e := slices.Clone(l)
	for i := range e {
		if e[i].AI == "10" || e[i].AI == "21" {
			b := []byte(e[i].Value)
			for j, c := range b {
				switch {
				case '0' <= c && c <= '9':
					b[j] = rapid.ByteRange('0', '9').Draw(t, "digit")
				case 'A' <= c && c <= 'Z':
					b[j] = rapid.ByteRange('A', 'Z').Draw(t, "letter")
				}
			}
			e[i].Value = string(b)
		}
	}
	return e
}

// Caps Lock is pressed or released after the test sheet was scanned: what is
// read by the profile of then is right, or in doubt.
func TestCapsLockChangesAfterTheProfile(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLabel(t, capitals)
		o := opts
		o.Profile = wedge.Profile{Separator: "|", CapsLock: rapid.SampledFrom([]wedge.Caps{wedge.CapsOff, wedge.CapsOn}).Draw(t, "profile")}
		text := strings.ReplaceAll(l.encode(), "\x1d", "|")
		if rapid.Bool().Draw(t, "on") {
			text = wedge.SwapCase(text)
		}
		judge(t, l, one(t, text, o), false)
	})
}
