package scanner_test

import (
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"lotbook/scanner"
	"lotbook/scanner/hibc"
	"lotbook/scanner/wedge"
)

// The texts are ours; what each symbology may carry is from the GS1 General
// Specifications, figure 5.1.3-1, and ISO/IEC 15424.
func TestRead(t *testing.T) {
	hibcText := func(s string) string {
		c, _ := hibc.CheckChar(s)
		return s + string(c)
	}
	for text, want := range map[string]struct{ carrier, gtin, lot, code string }{
		"":                                       {},
		" \r\n":                                  {},
		"HELLO":                                  {carrier: "plain"},
		"]C00109506000117843":                    {carrier: "plain", code: "not_gs1_symbol"},
		"]d1(01)09506000117843":                  {carrier: "plain", code: "not_gs1_symbol"},
		"]Q1https://a/01/09506000117843":         {carrier: "digital-link", gtin: "09506000117843"},
		"]A0+A123BJC5D6E71G":                     {carrier: "hibc"},
		"]E0950600011784":                        {code: "bad_check_digit"},
		"]E09506000117842":                       {code: "bad_check_digit"},
		"]E395060001178431234":                   {code: "bad_length"},
		"]E3950600011784312345":                  {carrier: "gs1", gtin: "09506000117843"},
		"]E395060001178435":                      {code: "bad_length"},
		"]E495060003":                            {code: "bad_check_digit"},
		"]I019506000117840":                      {carrier: "gs1", gtin: "19506000117840", code: "itf_unchecked"},
		"]I1950600011784":                        {code: "bad_length"},
		"01234565":                               {carrier: "gs1", code: "ean8_or_upce"},
		"9 506000 117843":                        {carrier: "gs1", gtin: "09506000117843"},
		"9506000117842":                          {code: "bad_check_digit"},
		"614141999996":                           {carrier: "gs1", gtin: "00614141999996"},
		"17271231":                               {carrier: "gs1", code: "requisite_ai"},
		"]E00109506000117843171231" + "10A":      {code: "bad_length"},
		"]E0010950600011784310a":                 {carrier: "gs1", gtin: "09506000117843", lot: "A", code: "caps_lock"},
		"]e09506000117843":                       {carrier: "gs1", gtin: "09506000117843", code: "caps_lock"},
		"]d2\x1d010950600011784310A\x1d":         {carrier: "gs1", gtin: "09506000117843", lot: "A"},
		"]d2010950600011784310A\x1d\x1d17271231": {code: "unknown_ai"},
		"010950600011784310lot":                  {carrier: "gs1", gtin: "09506000117843", code: "caps_lock_suspected"},
		"01 09506000117843 17 271231 10 LOT42":   {carrier: "gs1", gtin: "09506000117843", lot: "LOT42", code: "spaces_removed"},
		"(01)09506000117843(10)A<GS>(21)B":       {carrier: "gs1", gtin: "09506000117843", lot: "A"},
		")01=09506000117843)10=LOT":              {carrier: "gs1", gtin: "09506000117843", lot: "LOT", code: "keyboard_layout"},
		"à&à)(àçàè&&ç___":                        {carrier: "plain"},
		"HTTPS://EXAMPLE.COM/01/09506000117843/10/abc": {carrier: "digital-link", gtin: "09506000117843", code: "caps_lock_suspected"},
		"HTTPS://EXAMPLE.COM/01/09506000117843/10/ABC": {carrier: "digital-link", gtin: "09506000117843", lot: "ABC"},
		"https://example.com/01/09506000117843?10=ABC": {carrier: "digital-link", gtin: "09506000117843", lot: "ABC", code: "dl_qualifier_in_query"},
		"+a123bjc5d6e71g":                                         {carrier: "hibc", code: "caps_lock"},
		hibcText("+A99912345/$LOT-1"):                             {carrier: "hibc", lot: "LOT-1", code: "hibc_characters"},
		"=/A9999XYZ100T0944=,000025=>014032&,1000000000000XYZ123": {carrier: "iccbba", lot: "XYZ123"},
		"=/A9999": {code: "too_short"},
		// The start of a code, and what stands around it.
		"\x02]d2010950600011784310A\x03": {carrier: "gs1", gtin: "09506000117843", lot: "A"},
		"S:010950600011784310LOT":        {carrier: "gs1", gtin: "09506000117843", lot: "LOT", code: "prefix_removed"},
		"d2010950600011784310LOT":        {carrier: "gs1", gtin: "09506000117843", lot: "LOT", code: "first_lost"},
		"10950600011784310LOT":           {carrier: "gs1", code: "start_damaged"},
		"109506000117843":                {carrier: "gs1", code: "start_damaged"},
		"20109506000117843" + "10LOT":    {carrier: "gs1", code: "start_damaged"},
		// A hyphen on a German keyboard, or a separator.
		"010950600011784310ABß21X":    {carrier: "gs1", gtin: "09506000117843", code: "keyboard_layout"},
		"010950600011784310LOT\\F21X": {carrier: "gs1", gtin: "09506000117843", lot: "LOT", code: "separator_stand_in"},
		"010950600011784310LOTâ†”21X": {carrier: "gs1", gtin: "09506000117843", lot: "LOT", code: "separator_stand_in"},
		"010950600011784310LOT#":      {carrier: "gs1", gtin: "09506000117843", lot: "LOT"},
		// Capitals throughout: Caps Lock, or a scanner that sends nothing else.
		"]D2010950600011784310LOT":  {carrier: "gs1", gtin: "09506000117843", code: "caps_lock_suspected"},
		"]D2010950600011784310lot":  {carrier: "gs1", gtin: "09506000117843", lot: "LOT", code: "caps_lock"},
		"(01)09506000117843(10)lot": {carrier: "gs1", gtin: "09506000117843", lot: "lot", code: "caps_lock_suspected"},
		"]d2010950600011784310123":  {carrier: "gs1", gtin: "09506000117843", lot: "123"},
		"]e00109506000117843":       {carrier: "gs1", gtin: "09506000117843"},
		"]d2010950600011784310lot":  {carrier: "gs1", gtin: "09506000117843", lot: "lot", code: "caps_lock_suspected"},
		"*+a123bjc5d6e71g*":         {carrier: "hibc", code: "caps_lock"},
		// Two codes in one line.
		"010950600011784310LOT+A123BJC5D6E71G":                  {carrier: "gs1", gtin: "09506000117843", code: "two_symbols"},
		"95060001178439506000134352":                            {carrier: "gs1", code: "two_symbols"},
		"01095060001178431727123101095060001178431727" + "1231": {carrier: "gs1", gtin: "09506000117843", code: "two_symbols"},
		"]C1010950600011784310LÖT":                              {code: "unknown_ai"},
		"01" + strings.Repeat("1", 5000):                        {code: "input_too_long"},
	} {
		cs := scanner.Read(text, opts)
		if want.carrier+want.code == "" {
			if len(cs) != 0 {
				t.Errorf("%q: %+v", text, cs)
			}
			continue
		}
		if len(cs) != 1 {
			t.Errorf("%q: %d codes", text, len(cs))
			continue
		}
		c := cs[0]
		if string(c.Carrier) != want.carrier || c.GTIN != want.gtin || c.Lot != want.lot {
			t.Errorf("%.60q: carrier %q GTIN %q lot %q error %v", text, c.Carrier, c.GTIN, c.Lot, c.Error)
		}
		has := slices.ContainsFunc(c.Warnings, func(w scanner.Warning) bool { return w.Code == want.code })
		switch {
		case want.carrier == "" && (c.Error == nil || c.Error.Code != want.code):
			t.Errorf("%.60q: error %v, want %s", text, c.Error, want.code)
		case want.carrier != "" && want.code != "" && !has:
			t.Errorf("%.60q: warnings %v, want %s", text, c.Warnings, want.code)
		case want.carrier != "" && want.code == "" && len(c.Warnings) > 0:
			t.Errorf("%.60q: warnings %v", text, c.Warnings)
		}
	}
}

// Several symbols on one line.
func TestSeveral(t *testing.T) {
	for text, want := range map[string]int{
		"]C10109506000117843]C11727123110A":    2,
		"0109506000117843\r\n1727123110A\r\n":  2,
		"9506000117843\t9506000134352":         2,
		"+A123BJC5D6E71G+$$52001510X3GD":       2,
		"+$$52001510X3GD+A123BJC5D6E71G":       2,
		"]A0+A123BJC5D6E71G]A0+$$52001510X3GD": 2,
		"01095060001178430109506000134352":     2,
	} {
		cs := scanner.Read(text, opts)
		if len(cs) != want || slices.ContainsFunc(cs, func(c scanner.Code) bool { return c.Error != nil }) {
			t.Errorf("%q: %+v", text, cs)
		}
	}
}

func TestFromSymbol(t *testing.T) {
	// A picture's separators are exact, so a lot may look like anything.
	c := scanner.FromSymbol("]C1", "010950600011784310AB2117", opts)
	if c.Error != nil || c.Lot != "AB2117" || len(c.Candidates)+len(c.Warnings) > 0 || c.Symbology != "]C1" || c.Source != "-" {
		t.Errorf("%+v", c)
	}
	c = scanner.FromSymbol("]d1", "some text", opts)
	if c.Carrier != scanner.CarrierPlain || c.Raw != "some text" {
		t.Errorf("%+v", c)
	}
	c = scanner.FromSymbol("]C1", "010950600011784310", opts)
	if c.Error == nil || c.Error.Code != "empty_value" || c.Raw != "010950600011784310" {
		t.Errorf("%+v", c)
	}
	c = scanner.FromSymbol("]C1", "0109506000117843", scanner.Options{})
	if c.Error == nil || c.Error.Code != "no_clock" {
		t.Errorf("%+v", c)
	}
}

// Dates of all fineness, quantities, and the label of a shipping unit.
func TestMembers(t *testing.T) {
	c := scanner.Read("]d20109506000117843112412313030\x1d172802291021", opts)[0]
	if c.Made != "2024-12-31" || c.Expires != "2028-02-29" || c.Quantity != 30 || c.Lot != "21" {
		t.Errorf("%+v", c)
	}
	c = scanner.Read("(00)006141411234567890(02)09506000134352(37)24(10)L", opts)[0]
	if c.GTIN != "09506000134352" || c.Quantity != 24 || c.Warnings[0].Code != "content_gtin" {
		t.Errorf("%+v", c)
	}
	// From 2060, a label of 05 is of 2105 (GS1 General Specifications 7.12).
	o := scanner.Options{Now: time.Date(2060, 1, 1, 0, 0, 0, 0, time.UTC)}
	if c := scanner.Read("]d2010950600011784317050131", o)[0]; c.Expires != "2105-01-31" {
		t.Errorf("%+v", c)
	}
}

// A scan that contradicts its profile says so, and is read all the same; one
// that does not says nothing.
func TestProfileContradicted(t *testing.T) {
	const text = "010950600011784310Ab\x1d21c"
	typed := func(s string, scanner, host wedge.Layout) string {
		out, ok := wedge.Translate(s, host, scanner)
		if !ok {
			t.Fatalf("%s can't type %q", scanner, s)
		}
		return out
	}
	for name, tc := range map[string]struct {
		profile wedge.Profile
		text    string
		says    bool
	}{
		"no prefix":          {wedge.Profile{Prefix: "*"}, "]d2" + text, true},
		"its prefix":         {wedge.Profile{Prefix: "*"}, "*]d2" + text, false},
		"no suffix":          {wedge.Profile{Suffix: "#"}, "]d2" + text, true},
		"Caps Lock went on":  {wedge.Profile{CapsLock: wedge.CapsOff}, wedge.SwapCase("]d2" + text), true},
		"Caps Lock went off": {wedge.Profile{CapsLock: wedge.CapsOn}, "]d2" + text, true},
		"Caps Lock is on":    {wedge.Profile{CapsLock: wedge.CapsOn}, wedge.SwapCase("]d2" + text), false},
		"layout changed":     {wedge.Profile{Scanner: wedge.US, Host: wedge.US}, typed("]d2"+text, wedge.US, wedge.French), true},
		"layout put right":   {wedge.Profile{Scanner: wedge.US, Host: wedge.French}, "]d2" + text, true},
		"layouts differ":     {wedge.Profile{Scanner: wedge.US, Host: wedge.French}, typed("]d2"+text, wedge.US, wedge.French), false},
		"separator arrives":  {wedge.Profile{Separator: wedge.Dropped, CapsLock: wedge.CapsOff}, text, true},
		"separator for |":    {wedge.Profile{Separator: "|", CapsLock: wedge.CapsOff}, text, true},
		"| for separator":    {wedge.Profile{Separator: "\x1d", CapsLock: wedge.CapsOff}, strings.ReplaceAll(text, "\x1d", "|"), true},
		"| as always":        {wedge.Profile{Separator: "|", CapsLock: wedge.CapsOff}, strings.ReplaceAll(text, "\x1d", "|"), false},
	} {
		o := opts
		o.Profile = tc.profile
		cs := scanner.Read(tc.text, o)
		if len(cs) != 1 || cs[0].Lot != "Ab" || cs[0].Serial != "c" {
			t.Errorf("%s: %q was read as %+v", name, tc.text, cs)
			continue
		}
		says := slices.ContainsFunc(cs[0].Warnings, func(w scanner.Warning) bool { return w.Code == "profile_contradicted" })
		if says != tc.says {
			t.Errorf("%s: %+v", name, cs[0].Warnings)
		}
	}
}

// AppendRead says what Read says, whatever was read into the same memory before.
func TestAppendRead(t *testing.T) {
	var cs []scanner.Code
	for _, text := range []string{"]d2" + udi, "hello", "]d2010950600011784310A\x1d", "01095060001178431728123110LOT4221SN7", "]d2" + udi, ""} {
		cs = scanner.AppendRead(cs[:0], text, opts)
		if want := scanner.Read(text, opts); !slices.EqualFunc(cs, want, func(a, b scanner.Code) bool { return reflect.DeepEqual(a, b) }) {
			t.Errorf("%q: %+v, want %+v", text, cs, want)
		}
	}
	two := scanner.AppendRead(scanner.AppendRead(nil, "]d2"+udi, opts), "]d2010950600011784310A\x1d", opts)
	if len(two) != 2 || two[0].Lot != "A213B1" || two[1].Lot != "A" {
		t.Errorf("%+v", two)
	}
}

// One string of five identifiers is read in two allocations.
func TestAllocations(t *testing.T) {
	text := "]d2" + udi
	if n := testing.AllocsPerRun(100, func() { scanner.Read(text, opts) }); n > 2 {
		t.Errorf("Read makes %v allocations, want at most 2", n)
	}
}
