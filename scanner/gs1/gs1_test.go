package gs1_test

import (
	"bytes"
	"errors"
	"os"
	"strings"
	"testing"
	"time"

	"lotbook/scanner/gs1"
	"lotbook/scanner/gs1/internal/aitable"
)

var now = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

// AppendDate says what Date says.
func TestAppendDate(t *testing.T) {
	for _, a := range gs1.All() {
		for _, v := range []string{"270228", "280200", "510101", "760131", "2712311430", "27123114", "271231143059", "271231280131", "19991231", "199912311430", "LOT"} {
			if !a.Accepts(v, now) {
				continue
			}
			e := gs1.Element{AI: a, Value: v}
			want := ""
			if d, ok := e.Date(now); ok {
				want = d.String()
			}
			if got := string(e.AppendDate(nil, now.Year())); got != want {
				t.Errorf("(%s)%s: %q, want %q", a.Code(), v, got, want)
			}
		}
	}
}

// The generated table is what the text form says.
func TestTableIsGenerated(t *testing.T) {
	f, err := os.Open("testdata/ai-table.tsv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	want, err := aitable.Generate(f)
	if err != nil {
		t.Fatal(err)
	}
	got, err := os.ReadFile("table_gen.go")
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Error("table_gen.go is not what the table gives; run go generate ./scanner/gs1")
	}
}

// The number of identifiers and the predefined lengths are those of the GS1
// Barcode Syntax Dictionary 2026-01-27 and of figure 7.8.5-2 of the GS1 General
// Specifications (here from its text, not from the table).
func TestTable(t *testing.T) {
	predefined := map[string]int{
		"00": 18, "01": 14, "02": 14, "03": 14, "04": 16, "11": 6, "12": 6, "13": 6, "14": 6, "15": 6, "16": 6, "17": 6,
		"18": 6, "19": 6, "20": 2, "31": 6, "32": 6, "33": 6, "34": 6, "35": 6, "36": 6, "41": 13,
	}
	all := gs1.All()
	if len(all) != 541 {
		t.Errorf("%d identifiers, want 541", len(all))
	}
	for _, a := range all {
		n, ok := predefined[a.Code()[:2]]
		if ok != a.Predefined() {
			t.Errorf("%s: predefined is %v", a.Code(), a.Predefined())
		}
		if least, most := a.Length(); ok && (least != n || most != n) {
			t.Errorf("%s: length %d to %d, want %d", a.Code(), least, most, n)
		}
		if b, ok := gs1.Lookup(a.Code()); !ok || b != a {
			t.Errorf("%s is not found", a.Code())
		}
		if b, ok := gs1.Leading(a.Code() + "X"); !ok || b != a {
			t.Errorf("%sX does not begin with it", a.Code())
		}
	}
	for _, code := range []string{"", "0", "04", "14", "18", "23", "234", "310", "3106", "800", "7042", "012", "A1", "8O01"} {
		if a, ok := gs1.Lookup(code); ok {
			t.Errorf("%q was found as %s", code, a.Code())
		}
	}
}

// Published check digits: the GTIN examples of the GS1 General Specifications
// and of gs1.org's calculator page.
func TestCheckDigit(t *testing.T) {
	for s, want := range map[string]byte{"629104150021": '3', "501234567890": '0', "890400021003": '7', "0952123454321": '3'} {
		if got, ok := gs1.CheckDigit(s); !ok || got != want {
			t.Errorf("%s: %c, want %c", s, got, want)
		}
	}
	if gs1.HasCheckDigit("6291041500214") || !gs1.HasCheckDigit("6291041500213") || gs1.HasCheckDigit("3") || gs1.HasCheckDigit("") {
		t.Error("HasCheckDigit")
	}
}

// The keys with valid pairs are test cases of the csumalpha linter of the GS1
// Barcode Syntax Dictionary.
func TestCheckPair(t *testing.T) {
	for _, key := range []string{
		"1987654Ad4X4bL5ttr2310c2K", "12345678901234567890123NT", "12345_ABCDEFGHIJKLMCP", "12345_NOPQRSTUVWXYZDN",
		"12345_abcdefghijklmN3", "12345_nopqrstuvwxyzP2", `12345_!"%&'()*+,-./LC`, "12345_0123456789:;<=>?62",
		"7907665Bm8v2AB", "97850l6KZm0yCD", "149512464PM+GH", "53395376X1:nST", "23956qk1&dB!23", "57453Uq3qA<H67",
		"99999zzzzzzzzzzzzzzzzzzT2",
	} {
		body, want := key[:len(key)-2], key[len(key)-2:]
		if got, ok := gs1.CheckPair(body); !ok || got != want {
			t.Errorf("%s: %s", key, got)
		}
		if els, err := gs1.Parse("8013"+key, now); err != nil || els[0].Value != key {
			t.Errorf("%s: %v", key, err)
		}
	}
	for _, bad := range []string{"1987654Ad4X4bL5ttr2310cXK", "1987654Ad4X4bL5ttr2310c2X", "1987654ad4X4bL5ttr2310c2K"} {
		wantCode(t, "8013"+bad, gs1.BadCheckDigit)
	}
}

func wantCode(t *testing.T, text string, want gs1.Code) {
	t.Helper()
	els, err := gs1.Parse(text, now)
	var e *gs1.Error
	switch {
	case want == "" && err != nil:
		t.Errorf("%q: %v", text, err)
	case want == "":
	case !errors.As(err, &e):
		t.Errorf("%q: read as %v, want %s", text, els, want)
	case e.Code != want:
		t.Errorf("%q: %s, want %s", text, e.Code, want)
	case e.Reason == "" || strings.HasSuffix(e.Reason, "."):
		t.Errorf("%q: the reason is %q", text, e.Reason)
	}
}

// The values are cases of the linters of the GS1 Barcode Syntax Dictionary
// (release 2026-01-27, the self-tests in its sources) or follow from the rule's
// one-line definition there; the names of the codes are ours.
func TestRules(t *testing.T) {
	for _, c := range []struct {
		text string
		want gs1.Code
	}{
		{"17270228", ""},
		{"17280229", ""},
		{"17270229", gs1.BadDate},
		{"17270230", gs1.BadDate},
		{"17270431", gs1.BadDate},
		{"17270001", gs1.BadDate},
		{"17271301", gs1.BadDate},
		{"17000229", ""}, // 2000 was a leap year
		{"1727120A", gs1.BadCharset},
		{"1727120", gs1.TooShort},
		{"17", gs1.EmptyValue},
		{"70032712312359", ""},
		{"70032712002359", gs1.BadDate}, // day 00 is not for (7003)
		{"70032712312400", gs1.BadTime},
		{"70032712312360", gs1.BadTime},
		{"700327123123", gs1.TooShort},
		{"7006271200", gs1.BadDate},
		{"7007271231", ""},
		{"7007271231280101", ""},
		{"7007271231280132", gs1.BadDate},
		{"70072712312801", gs1.TooShort},
		{"800827123123", ""},
		{"80082712312359", ""},
		{"8008271231235959", ""},
		{"8008271231235960", gs1.BadTime},
		{"80082712312", gs1.TooShort},
		{"7011271231", ""},
		{"70112712311430", ""},
		{"43242712009999", gs1.BadTime},
		{"43242712002359", ""},
		{"4326271200", gs1.BadDate},
		{"725020260229", gs1.BadDate},
		{"725120240229" + "2359", ""},
		{"2539501101530003", ""},
		{"2539501101530003A-1", ""},
		{"2539501101530004", gs1.BadCheckDigit},
		{"253950110153000", gs1.TooShort},
		{"2559501101530003123456789012", ""},
		{"25595011015300031234567890123", gs1.TooLong},
		{"2559501101530003A", gs1.BadCharset},
		{"80030950600001234" + "6S1", ""},
		{"80031950600001234" + "6S1", gs1.BadValue},
		{"8003095060000123" + "45S1", gs1.BadCheckDigit},
		{"8017950600012345678907", ""},
		{"8017950600012345678908", gs1.BadCheckDigit},
		{"8018950600012345678907\x1d801942", ""},
		{"00006141411234567890", ""},
		{"00006141411234567891", gs1.BadCheckDigit},
		{"8006095060001178430102", ""},
		{"8006095060001178430302", gs1.BadValue},
		{"8006095060001178430002", gs1.BadValue},
		{"8006095060001178430100", gs1.BadValue},
		{"43210", ""},
		{"43211", ""},
		{"43212", gs1.BadValue},
		{"422276", ""},
		{"422999", gs1.BadCountry},
		{"7030999X", ""},
		{"7030998X", gs1.BadCountry},
		{"423276826", ""},
		{"4232768", gs1.TooShort},
		{"423276999", gs1.BadCountry},
		{"4212761234", ""},
		{"421276", gs1.TooShort},
		{"4307DE", ""},
		{"4307XX", gs1.BadCountry},
		{"4307de", gs1.BadCountry},
		{"3910978123", ""},
		{"3910000123", gs1.BadCurrency},
		{"8007FR7630006000011234567890189", ""},
		{"8007DE91100000000123456789", ""},
		{"8007MT90MALT011000012345MTLCAST001SABC", ""},
		{"8007BE71096123456760", gs1.BadIBAN},
		{"8007XX361234567890", gs1.BadIBAN},
		{"8007LC14BOSLxx3456789012345678901230", gs1.BadIBAN},
		{"4300ABC%20X", ""},
		{"4300ABC%g", gs1.BadValue},
		{"4300ABC%f", gs1.BadValue},
		{"4300ABC%fF", ""},
		{"43090000000000" + "3600000000", ""},
		{"43091800000000" + "0000000000", ""},
		{"43091800000001" + "0000000000", gs1.BadValue},
		{"43090000000000" + "3600000001", gs1.BadValue},
		{"4330001500-", ""},
		{"4330001500", ""},
		{"4330001500X", gs1.BadValue},
		{"70401ABz", ""},
		{"70401AB_", ""},
		{"70401AB+", gs1.BadCharset},
		{"7041PX", ""},
		{"7041APE", ""},
		{"70418", ""},
		{"7041A", gs1.BadValue},
		{"70410", gs1.BadValue},
		{"7241" + "01", ""},
		{"7241" + "11", gs1.BadValue},
		{"7241" + "80", ""},
		{"7252" + "2", ""},
		{"7252" + "3", gs1.BadValue},
		{"7258" + "1/3", ""},
		{"7258" + "3/2", gs1.BadValue},
		{"7258" + "0/1", gs1.BadValue},
		{"7258" + "1//", gs1.BadValue},
		{"8001" + "0001" + "00001" + "001" + "9" + "0", ""},
		{"8001" + "0000" + "00001" + "001" + "9" + "0", gs1.BadValue},
		{"8001" + "0001" + "00001" + "001" + "2" + "0", gs1.BadValue},
		{"8010" + "9506000A-1/#", ""},
		{"8010" + "9506000a", gs1.BadCharset},
		{"8010" + "95A", gs1.BadValue},
		{"8011" + "0", ""},
		{"8011" + "12", ""},
		{"8011" + "012", gs1.BadValue},
		{"8004" + "9506XYZ", ""},
		{"8004" + "ABC9506", gs1.BadValue},
		{"8014" + "12345_ABCDEFGHIJKLMCP", ""},
		{"8030" + "AbC-_12=", gs1.BadValue},
		{"8030" + "12=", ""},
		{"8030" + "1.2", gs1.BadCharset},
		{"8112" + "001234561234560123456", ""},
		{"8112" + "201234561234560123456", gs1.BadValue},
		{"8112" + "0012345612345601234567", gs1.BadValue},
		{"242" + "1234567", gs1.TooLong},
		{"30" + "123456789", gs1.TooLong},
		{"426" + "276" + "10X", gs1.TooLong}, // fixed, not predefined
		{"10LOT 1", gs1.BadCharset},
		{"10LOT#1", gs1.BadCharset},
		{"10LÖT", gs1.BadCharset},
		{"10A\x1d\x1d17271231", gs1.UnknownAI},
		{"10A\x1d17271231\x1d\x1d", gs1.UnknownAI},
		{"18123456", gs1.UnknownAI},
		{"", gs1.UnknownAI},
		{"\x1d", gs1.UnknownAI},
		{"1", gs1.UnknownAI},
		{"31061234", gs1.UnknownAI},
	} {
		wantCode(t, c.text, c.want)
	}
}

// GS1 General Specifications 7.12; the years follow from its rule.
func TestCentury(t *testing.T) {
	for yy, want := range map[int]int{77: 1977, 76: 2076, 26: 2026, 0: 2000, 99: 1999} {
		if got := gs1.YearOf(yy, now); got != want {
			t.Errorf("%02d in 2026: %d, want %d", yy, got, want)
		}
	}
	in1998 := time.Date(1998, 1, 1, 0, 0, 0, 0, time.UTC)
	if got := gs1.YearOf(2, in1998); got != 2002 {
		t.Errorf("02 in 1998: %d", got)
	}
	in2060 := time.Date(2060, 1, 1, 0, 0, 0, 0, time.UTC)
	if got := gs1.YearOf(5, in2060); got != 2105 {
		t.Errorf("05 in 2060: %d", got)
	}
	// 2100 is no leap year, so what is valid depends on the clock.
	if _, err := gs1.Parse("17000229", in2060); err == nil {
		t.Error("29 February 2100 was accepted")
	}
}

// Day 00 is the last day of its month: GS1 General Specifications 3.4.2 (130200
// is its example).
func TestDates(t *testing.T) {
	for text, want := range map[string]string{
		"17130200": "2013-02-28", "17160200": "2016-02-29", "17271231": "2027-12-31",
		"70032712311430": "2027-12-31T14:30:00", "800827123114": "2027-12-31T14", "8008271231143059": "2027-12-31T14:30:59",
		"7007271231280101": "2027-12-31", "725020240229": "2024-02-29", "43242712310800": "2027-12-31T08:00:00",
	} {
		els, err := gs1.Parse(text, now)
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		d, ok := els[0].Date(now)
		if !ok || d.String() != want || d.EndOfMonth != (text[6:8] == "00" && len(text) == 8) {
			t.Errorf("%s: %s, want %s", text, d, want)
		}
	}
	els, _ := gs1.Parse("10271231", now)
	if _, ok := els[0].Date(now); ok {
		t.Error("a lot has a date")
	}
}
