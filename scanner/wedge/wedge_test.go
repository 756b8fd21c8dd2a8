package wedge

import (
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"lotbook/scanner/gs1"
)

var now = time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)

// The keyboards are those of xkeyboard-config, as testdata/keyboards.txt has
// them from it.
func TestKeyboards(t *testing.T) {
	b, err := os.ReadFile("testdata/keyboards.txt")
	if err != nil {
		t.Fatal(err)
	}
	sorted := func(s string) string {
		rs := []rune(s)
		slices.Sort(rs)
		return string(rs)
	}
	lines := strings.Split(strings.TrimRight(string(b), "\n"), "\n")[2:]
	seen := 0
	for ; len(lines) >= 4; lines = lines[4:] {
		k := keyboards[Layout(lines[0])]
		if k == nil {
			t.Errorf("%s is not known", lines[0])
			continue
		}
		seen++
		if string(k.plain) != lines[1][2:] || string(k.shift) != lines[2][2:] || sorted(k.dead) != sorted(strings.TrimPrefix(lines[3], "  dead: ")) {
			t.Errorf("%s:\n  %s\n  %s\n  dead: %s\nwant\n%s", lines[0], string(k.plain), string(k.shift), k.dead, strings.Join(lines[1:4], "\n"))
		}
		if len(k.plain) != 47 || len(k.shift) != 47 {
			t.Errorf("%s: %d and %d keys", lines[0], len(k.plain), len(k.shift))
		}
	}
	if seen != len(keyboards) || seen != len(Layouts()) {
		t.Errorf("%d of %d keyboards were compared", seen, len(keyboards))
	}
}

// What a scanner set for one layout types on a computer set for another; common
// practice, and the keys are there to be looked at.
func TestTranslate(t *testing.T) {
	for _, c := range []struct {
		typed, meant  string
		scanner, host Layout
	}{
		{")01=0950", "(01)0950", US, German},
		{"+d20109Zy", "]d20109Yz", US, German},
		{"$dé&à", "]d210", US, French},
		{"*01(0950", "(01)0950", German, US},
		{"QaWz", "AqZw", US, French},
		{"´d20109", "]d20109", US, Portuguese},
		{"é0Á0", "]e0]A0", US, Portuguese}, // a dead key and the letter after it
		{"¨d2ë0", "]d2]e0", US, Swedish},
		{"abc", "abc", "", ""},
		{"a b\x1d", "a b\x1d", US, German},
	} {
		if got, ok := Translate(c.typed, c.scanner, c.host); !ok || got != c.meant {
			t.Errorf("%q from %s on %s: %q %v, want %q", c.typed, c.scanner, c.host, got, ok, c.meant)
		}
	}
	if _, ok := Translate("漢", US, German); ok {
		t.Error("a character was typed that no key has")
	}
}

func TestUndo(t *testing.T) {
	p := Profile{Prefix: "S:", Suffix: "#", Scanner: US, Host: German, CapsLock: CapsOn}
	if got, ws := p.Undo("S:+D2zY#"); got != "]d2Yz" || len(ws) != 0 {
		t.Errorf("%q %v", got, ws)
	}
	if _, ws := p.Undo("+D2zY"); len(ws) != 2 || ws[0].Code != "profile_contradicted" {
		t.Errorf("no word of the missing prefix and suffix: %v", ws)
	}
}

func TestMask(t *testing.T) {
	if m := MaskOf("LOT-42a/"); m != "AAA-99a/" {
		t.Error(m)
	}
}

// The example of the package documentation: all readings, the plain one among
// them, none chosen.
func TestReadings(t *testing.T) {
	o, err := ReadGS1("010950600011784310AB2117", Context{Now: now})
	if err != nil || o.Chosen || len(o.Readings) != 2 {
		t.Fatalf("%+v %v", o, err)
	}
	var lots []string
	for _, r := range o.Readings {
		for _, e := range r {
			if e.AI.Code() == "10" {
				lots = append(lots, e.Value)
			}
		}
	}
	slices.Sort(lots)
	if !slices.Equal(lots, []string{"AB", "AB2117"}) {
		t.Error(lots)
	}
}

// A scanner that is known to send the separator leaves no doubt.
func TestProfileSettles(t *testing.T) {
	o, err := ReadGS1("010950600011784310AB2117", Context{Now: now, Profile: Profile{Separator: "\x1d"}})
	if err != nil || len(o.Readings) != 0 || o.Elements[1].Value != "AB2117" {
		t.Errorf("%+v %v", o, err)
	}
}

// Known chooses only where order and masks agree.
func TestKnown(t *testing.T) {
	parse := func(s string) []gs1.Element {
		els, err := gs1.Parse(s, now)
		if err != nil {
			t.Fatal(err)
		}
		return els
	}
	var k Known
	k.Learn(parse("010950600011784310XY\x1d2134"))
	c := Context{Now: now, Known: func(string) *Known { return &k }}
	o, err := ReadGS1("010950600011784310AB2117", c)
	if err != nil || !o.Chosen || o.Elements[1].Value != "AB" || len(o.Readings) != 2 || o.Warnings[0].Code != "separator_known" {
		t.Fatalf("%+v %v", o, err)
	}
	// Another shape of lot: the order alone would choose, and it may not.
	o, err = ReadGS1("010950600011784310ABC2117", c)
	if err != nil || o.Chosen || o.Elements != nil {
		t.Errorf("chosen by the order alone: %+v %v", o, err)
	}
}
