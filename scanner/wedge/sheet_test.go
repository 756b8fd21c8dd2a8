package wedge

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"lotbook/scanner/gs1"
)

// scanned is what a scanner types for a code of the sheet. What keys give is
// that of the layouts in this package.
func (p Profile) scanned(t interface{ Fatalf(string, ...any) }, c SheetCode, identifier bool) string {
	text := c.Text
	if identifier {
		text = c.Symbology + text
	}
	typed, ok := Typed(text, p.Scanner, p.Host, p.CapsLock)
	if !ok {
		t.Fatalf("%s has no key for all of %q", p.Scanner, text)
	}
	if p.Separator != gs {
		stands, _ := Typed(strings.ReplaceAll(p.Separator, Dropped, ""), p.Scanner, p.Host, p.CapsLock)
		typed = strings.ReplaceAll(typed, gs, stands)
	}
	return p.Prefix + typed + p.Suffix
}

// The codes are valid as what they are drawn as: GS1 General Specifications,
// section 3, for 3 and 4, and the characters of Code 128 for 1 and 2.
func TestSheetCodes(t *testing.T) {
	if n := len(SheetCodes()); n != 4 {
		t.Fatalf("%d codes", n)
	}
	for _, c := range SheetCodes() {
		switch c.Symbology {
		case "]C0":
			if strings.ContainsFunc(c.Text, func(r rune) bool { return r < ' ' || r > '~' }) {
				t.Errorf("code %d: %q", c.Number, c.Text)
			}
		case "]C1", "]d2":
			if els, err := gs1.Parse(c.Text, now); err != nil || len(els) != 4 {
				t.Errorf("code %d: %v %v", c.Number, els, err)
			}
		}
		for _, l := range Layouts() {
			if typed, ok := Typed(c.Text, l, US, CapsOff); !ok {
				t.Errorf("code %d: %s has no key for all of %q (%q)", c.Number, l, c.Text, typed)
			}
		}
	}
}

// Two ways that keys can go either type the sheet differently, or type all that
// a GS1 value may hold the same.
func TestSheetTellsLayoutsApart(t *testing.T) {
	typed := func(w way, text string) string {
		s, ok := w.types(text)
		if !ok {
			return "no key"
		}
		return s
	}
	all := ""
	for c := byte(' '); c <= '~'; c++ {
		if gs1.InSet82(c) && c != '<' && c != '>' { // those two have no key of the 47 in every layout
			all += string(c)
		}
	}
	for i, a := range ways() {
		for _, b := range ways()[:i] {
			same := true
			for _, c := range sheet[:2] {
				same = same && typed(a, c.Text) == typed(b, c.Text)
			}
			if same && typed(a, all) != typed(b, all) {
				t.Errorf("%v and %v type the sheet alike", a, b)
			}
		}
	}
}

// A profile is found again from what a scanner with it types.
func TestDiagnose(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Profile{
			Prefix: rapid.SampledFrom([]string{"", "*", "S:", "~~"}).Draw(t, "prefix"),
			Suffix: rapid.SampledFrom([]string{"", "#", " ", "END"}).Draw(t, "suffix"),
			// Whatever a value may not hold, and what it may.
			Separator: rapid.SampledFrom([]string{gs, Dropped, "|", "<GS>", "{GS}", "^]", "/", "_"}).Draw(t, "separator"),
			CapsLock:  rapid.SampledFrom([]Caps{CapsOff, CapsOn, CapsShift}).Draw(t, "caps"),
			Scanner:   US, Host: US,
		}
		if rapid.Bool().Draw(t, "another layout") {
			p.Host = rapid.SampledFrom(Layouts()).Draw(t, "host")
		}
		if p.CapsLock != CapsOff && len(p.Separator) > 1 && p.Separator != Dropped {
			p.Separator = "|" // a scanner that types letters for it types them in the wrong case
		}
		identifier := rapid.Bool().Draw(t, "identifier")
		if !identifier && slices.Contains([]string{gs, Dropped, "/", "_"}, p.Separator) {
			// Not every layout has a key for brackets.
			p.Scanner = rapid.SampledFrom(Layouts()).Draw(t, "scanner")
		}
		var scans []string
		for _, i := range rapid.Permutation([]int{0, 1, 2, 3}).Draw(t, "order") {
			scans = append(scans, p.scanned(t, sheet[i], identifier)+rapid.SampledFrom([]string{"", "\r", "\r\n", "\t"}).Draw(t, "end"))
		}
		got, fs, err := Diagnose(scans)
		if err != nil {
			t.Fatalf("%+v gave %v: %v", p, err, fs)
		}
		if got.Prefix != p.Prefix || got.Suffix != p.Suffix || got.Separator != p.Separator || got.CapsLock != p.CapsLock {
			t.Fatalf("%+v was taken for %+v from %q", p, got, scans)
		}
		a, b := way{p.Scanner, p.Host, p.CapsLock}, way{got.Scanner, got.Host, got.CapsLock}
		const marks = `!"%&'()*+,-./0123456789:;=?AMQWYZ_amqwyz`
		if x, _ := a.types(marks); func() string { y, _ := b.types(marks); return y }() != x {
			t.Fatalf("%+v was taken for %+v", p, got)
		}
		if slices.ContainsFunc(fs, func(f Finding) bool { return f.Code == FoundIdentifier }) != identifier {
			t.Fatalf("identifier %v: %+v", identifier, fs)
		}
	})
}

// Where the scans say nothing, or contradict one another, nothing is made up.
func TestDiagnoseMakesNothingUp(t *testing.T) {
	plain := Profile{Separator: gs, Scanner: US, Host: US}
	without := func(left int) func(int, string) string {
		return func(n int, s string) string {
			if n == left {
				return ""
			}
			return s
		}
	}
	all := func(change func(n int, s string) string) (scans []string) {
		for i, c := range sheet {
			if s := change(i+1, plain.scanned(t, c, true)); s != "" {
				scans = append(scans, s)
			}
		}
		return scans
	}
	for name, c := range map[string]struct {
		scans []string
		code  string
	}{
		"nothing":            {nil, FoundMissing},
		"something else":     {[]string{"0109506000117843", "hello", "a", "b"}, FoundNotUnderstood},
		"one left out":       {all(without(1)), FoundMissing},
		"capitals only":      {all(func(_ int, s string) string { return strings.ToUpper(s) }), FoundCaseForced},
		"small letters only": {all(func(_ int, s string) string { return strings.ToLower(s) }), FoundCaseForced},
		"prefix of one code": {all(func(n int, s string) string { return "ab"[:n/2] + s }), FoundUneven},
		"suffix of one code": {all(func(n int, s string) string { return s + "ab"[:n/2] }), FoundUneven},
		"no code 3":          {all(without(3)), FoundMissing},
	} {
		p, fs, err := Diagnose(c.scans)
		if !errors.Is(err, ErrSheet) || p != (Profile{}) || !slices.ContainsFunc(fs, func(f Finding) bool { return f.Code == c.code }) {
			t.Errorf("%s: %+v %+v %v", name, p, fs, err)
		}
	}
	// A separator that comes now and then is not believed.
	p, fs, err := Diagnose(all(func(n int, s string) string {
		if n == 4 {
			return strings.ReplaceAll(s, gs, "|")
		}
		return s
	}))
	if err != nil || p.Separator != "" || !slices.ContainsFunc(fs, func(f Finding) bool { return f.Code == FoundSeparators }) {
		t.Errorf("two separators: %+v %+v %v", p, fs, err)
	}
	// A scanner of linear symbols has a profile too, and is told.
	p, fs, err = Diagnose(all(without(4)))
	if err != nil || p.Separator != gs || !slices.ContainsFunc(fs, func(f Finding) bool { return f.Code == FoundLinearOnly }) {
		t.Errorf("without code 4: %+v %+v %v", p, fs, err)
	}
}
