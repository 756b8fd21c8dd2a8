package wedge

import (
	"errors"
	"strings"
	"testing"

	"lotbook/scanner/gs1"
)

// A text has a reading or an error of package gs1, every reading is valid by
// itself, and they are no more than are listed.
func FuzzReadGS1(f *testing.F) {
	for _, s := range []string{
		"010950600011784310AB2117", "01095060001178431727123110LOT42<GS>21SN7", "0109506000117843\\F10A|21B", "10a/21b_17271231",
		"01 09506000117843 17 271231 10 LOT42", "01095060001178431727123110LOTâ†”21SN7", "0109506000117843" + "10A0029" + "21B",
	} {
		for profile := range uint8(5) {
			f.Add(s, profile, profile%2 == 0)
		}
	}
	f.Fuzz(func(t *testing.T, s string, profile uint8, identified bool) {
		p := Profile{Separator: []string{"", Dropped, gs, "|", "/"}[profile%5]}
		o, err := ReadGS1(s, Context{Now: now, Profile: p, Identified: identified, Swapped: identified && profile > 100})
		var fault *gs1.Error
		if err != nil {
			if !errors.As(err, &fault) || fault.Code == "" {
				t.Fatalf("%q: %v", s, err)
			}
			return
		}
		if len(o.Readings) > 40*maxReadings {
			t.Errorf("%q: %d readings", s, len(o.Readings))
		}
		for _, r := range append(o.Readings, o.Elements) {
			if gs1.Check(r) != nil {
				t.Errorf("%q: %v", s, r)
			}
			for _, e := range r {
				if !e.AI.Accepts(e.Value, now) {
					t.Errorf("%q: %s holds %q", s, e.AI.Code(), e.Value)
				}
			}
		}
	})
}

// What a keyboard types is undone again, and no scans of a test sheet make
// Diagnose panic or give a profile that contradicts them.
func FuzzDiagnose(f *testing.F) {
	var scans []string
	for _, c := range SheetCodes() {
		scans = append(scans, c.Symbology+c.Text)
	}
	f.Add(strings.Join(scans, "\n"), uint8(0), uint8(0), uint8(0))
	for i := range Layouts() {
		f.Add(strings.Join(scans, "\r"), uint8(i), uint8(i+1), uint8(i))
	}
	f.Fuzz(func(t *testing.T, text string, scanner, host, caps uint8) {
		s, h := Layouts()[int(scanner)%len(Layouts())], Layouts()[int(host)%len(Layouts())]
		c := []Caps{CapsOff, CapsOn, CapsShift}[caps%3]
		if typed, ok := Typed(text, s, h, c); ok && printable(text) {
			if again, ok := Remap(typed, s, h, c); !ok || again != text {
				t.Errorf("%q is typed as %q, and read as %q", text, typed, again)
			}
		}
		p, fs, err := Diagnose(Lines(text))
		if err == nil && (len(fs) == 0 || p.Scanner == "" || p.Host == "") || err != nil && (!errors.Is(err, ErrSheet) || p != (Profile{}) || len(fs) == 0) {
			t.Errorf("%q: %+v %v %v", text, p, fs, err)
		}
	})
}

// printable reports whether a text holds what a key types on every layout by
// itself: no letter that a dead key could have made.
func printable(s string) bool {
	return !strings.ContainsFunc(s, func(r rune) bool { return r > '~' })
}
