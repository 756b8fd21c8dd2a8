package hibc

import (
	"errors"
	"testing"
	"time"
)

var now = time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)

// The texts are from ANSI/HIBC 2.6 (table F1, 2.2 and 2.3) with the check
// characters that the independent encoder BWIPP gives; they are the same as in
// scanner/testdata/codes.jsonl, where each names its source.
func TestSecondaryForms(t *testing.T) {
	for _, c := range []struct{ text, lot, serial, exp string }{
		{"+$$09053C001L+", "3C001", "", "2005-09"},
		{"+$$20928053C001LA", "3C001", "", "2005-09-28"},
		{"+$$30509283C001LB", "3C001", "", "2005-09-28"},
		{"+$$4050928223C001LG", "3C001", "", "2005-09-28T22"},
		{"+$$73C001LY", "3C001", "", ""},
		{"+$3C001LV", "3C001", "", ""},
		{"+$$+30509280001L.", "", "0001", "2005-09-28"},
	} {
		l, err := Parse(c.text, now)
		if err != nil {
			t.Errorf("%s: %v", c.text, err)
			continue
		}
		if l.Lot != c.lot || l.Serial != c.serial || l.Expires.String() != c.exp || l.Link != 'L' {
			t.Errorf("%s: lot %q serial %q exp %q link %q", c.text, l.Lot, l.Serial, l.Expires, l.Link)
		}
	}
}

// encode appends the check character.
func encode(t *testing.T, s string) string {
	t.Helper()
	c, ok := CheckChar(s)
	if !ok {
		t.Fatalf("no check character for %q", s)
	}
	return s + string(c)
}

// The forms are those of ANSI/HIBC 2.6, table 2; the values are ours, and the
// check characters are computed here.
func TestForms(t *testing.T) {
	for _, c := range []struct {
		body, lot, serial, exp, made string
		qty                          int
	}{
		{"+A99912345/$$824", "", "", "", "", 24},
		{"+A99912345/$$8240928LOT1", "LOT1", "", "2028-09", "", 24},
		{"+A99912345/$$8242092828LOT1", "LOT1", "", "2028-09-28", "", 24},
		{"+A99912345/$$9001003280928LOT1", "LOT1", "", "2028-09-28", "", 100},
		{"+A99912345/$$824428092822LOT1", "LOT1", "", "2028-09-28T22", "", 24},
		{"+A99912345/$$824528060LOT1", "LOT1", "", "2028-02-29", "", 24},
		{"+A99912345/$$82462836623LOT1", "LOT1", "", "2028-12-31T23", "", 24},
		{"+A99912345/$$8247LOT1", "LOT1", "", "", "", 24},
		{"+A99912345/$$+7S1", "", "S1", "", "", 0},
		{"+A99912345/28060LOT1", "LOT1", "", "2028-02-29", "", 0},
		{"+A99912345/$LOT1/SSER/16D20270101/14D20290101/Q500", "LOT1", "SER", "2029-01-01", "2027-01-01", 500},
		{"+A99912345/SSER", "", "SER", "", "", 0},
		{"+$$3280928LOT1/SSER7", "LOT1", "SER", "2028-09-28", "", 0}, // link 7
		{"+A99912345/$", "", "", "", "", 0},
	} {
		l, err := Parse(encode(t, c.body), now)
		if err != nil {
			t.Errorf("%s: %v", c.body, err)
			continue
		}
		if l.Lot != c.lot || l.Serial != c.serial || l.Expires.String() != c.exp || l.Made.String() != c.made || l.Quantity != c.qty {
			t.Errorf("%s: lot %q serial %q exp %q made %q qty %d", c.body, l.Lot, l.Serial, l.Expires, l.Made, l.Quantity)
		}
	}
}

// The forms and values of ANSI/HIBC 2.6, table F1, behind a primary symbol, as an
// independent decoder's tests repeat them: expiry 28 September 2005, its day of the
// year 271, at 22 h; lot 3C001; quantities 24 and 100. The labeler and its product
// are theirs; the check characters are computed here.
func TestCombinedForms(t *testing.T) {
	const primary = "+Z99900999302035" + "1/"
	dates := map[string]string{
		"0905": "2005-09", "2092805": "2005-09-28", "3050928": "2005-09-28", "405092822": "2005-09-28T22",
		"505271": "2005-09-28", "60527122": "2005-09-28T22", "7": "",
	}
	for quantity, n := range map[string]int{"": 0, "824": 24, "900100": 100} {
		for date, exp := range dates {
			text := encode(t, primary+"$$"+quantity+date+"3C001")
			l, err := Parse(text, now)
			if err != nil || l.LIC != "Z999" || l.PCN != "00999302035" || l.UoM != "1" || l.Lot != "3C001" || l.Expires.String() != exp || l.Quantity != n {
				t.Errorf("%s: %+v %v", text, l, err)
			}
		}
	}
	for body, want := range map[string]string{
		"05271": "2005-09-28 ", "$3C001": " 3C001", "$$824": " ",
	} {
		l, err := Parse(encode(t, primary+body), now)
		if err != nil || l.Expires.String()+" "+l.Lot != want {
			t.Errorf("%s: %+v %v", body, l, err)
		}
	}
	// A primary symbol whose check character is a space, and the secondary one
	// that it links, whose check character is one too.
	a, err1 := Parse(encode(t, "+Z99900999302035"+"1"), now)
	b, err2 := Parse(encode(t, "+$$09053C001"+string(a.Check)), now)
	if err1 != nil || err2 != nil || b.Link != a.Check {
		t.Errorf("%+v %v, %+v %v", a, err1, b, err2)
	}
}

// The check or link character can be one that the grammar uses elsewhere.
func TestAwkwardCheckAndLink(t *testing.T) {
	seen := map[byte]bool{}
	for i := range 43 * 43 {
		body := "+$$3280928L" + string(values[i/43%36]) + string(values[i%36]) + string(values[i%43])
		text := encode(t, body)
		l, err := Parse(text, now)
		if err != nil {
			t.Fatalf("%q: %v", text, err)
		}
		if l.Link != body[len(body)-1] || l.Check != text[len(text)-1] || l.Lot != body[10:13] {
			t.Fatalf("%q: lot %q link %q check %q", text, l.Lot, l.Link, l.Check)
		}
		seen[l.Check] = true
	}
	for _, c := range []byte("/+$ %") {
		if !seen[c] {
			t.Errorf("check character %q never occurred", c)
		}
	}
}

func TestErrors(t *testing.T) {
	for _, c := range []struct {
		text string
		code Code
	}{
		{"+A99912345/$$52001510X34", BadCheckChar},
		{encode(t, "+A99912345/$$529366LOT"), BadDate}, // 2029 has 365 days
		{encode(t, "+A99912345/$$31327010LOT"), BadDate},
		{encode(t, "+A99912345/$$428092824LOT"), BadTime},
		{encode(t, "+A99912345/$1234567890123456789"), TooLong},
		{encode(t, "+A9991234567890123456789XX1"), TooLong},
		{encode(t, "+A999X"), TooShort},
		{encode(t, "+A99912345/"), EmptyValue},
		{encode(t, "+A99912345/$$8X4"), BadStructure},
		{"+a99912345x", BadStructure},
		{"", BadStructure},
	} {
		_, err := Parse(c.text, now)
		var e *Error
		if !errors.As(err, &e) || e.Code != c.code {
			t.Errorf("%q: got %v, want code %s", c.text, err, c.code)
		}
	}
}

// The texts are the published ones: of the FDA's list of UDI formats by issuing
// agency, version 1.3; of ICCBBA ST-017, version 1.0.0, 2.1, 4.3 and 5; of the
// example "udi2" of the resource Device in HL7 FHIR R4, whose dates and donation
// number are these.
func TestICCBBA(t *testing.T) {
	for _, c := range []struct{ text, di, din, serial, lot, exp, made string }{
		{"=/A9999XYZ100T0944=,000025=A99971312345600=>014032=}013032&,1000000000000XYZ123", "A9999XYZ100T0944", "A99971312345600", "000025", "XYZ123", "2014-02-01", "2013-02-01"},
		{"=/A9999XYZ100T0476=,000025=A99971312345600=>019032=}017032&,1000000000000XYZ123", "A9999XYZ100T0476", "A99971312345600", "000025", "XYZ123", "2019-02-01", "2017-02-01"},
		{"=+06000=/A9999XYZ100T0476=,000025=A99971312345600=>019032=}017032&,1000000000000XYZ123", "A9999XYZ100T0476", "A99971312345600", "000025", "XYZ123", "2019-02-01", "2017-02-01"},
		{"=+04000=/A9997XYZ100T0479=A99991712345600=,000012=>019031", "A9997XYZ100T0479", "A99991712345600", "000012", "", "2019-01-31", ""},
		{"=+04035=/A9997XYZ100T0479=,000012=A99991712345600=>019031", "A9997XYZ100T0479", "A99991712345600", "000012", "", "2019-01-31", ""},
		{"=/A9997AB3456T0123", "A9997AB3456T0123", "", "", "", "", ""},
		{"=A99991712345600", "", "A99991712345600", "", "", "", ""},
		// The structures are those of ICCBBA ST-001, 2.4.4 to 2.4.9 and 2.4.26; the
		// values are ours.
		{"=/A9997AB3456T0123&>0280602210&}0270600600", "A9997AB3456T0123", "", "", "", "2028-02-29T22:10:00", "2027-03-01T06:00:00"},
		{"=]202805&-0000LOT123", "", "", "", "LOT123", "2028-05", ""},
	} {
		l, err := ParseICCBBA(c.text, now)
		if err != nil {
			t.Errorf("%s: %v", c.text, err)
			continue
		}
		din := ""
		for _, f := range l.Fields {
			if f.Name == "din" {
				din = f.Value
			}
		}
		if l.DI != c.di || din != c.din || l.Serial != c.serial || l.Lot != c.lot || l.Expires.String() != c.exp || l.Made.String() != c.made {
			t.Errorf("%s: %+v", c.text, l)
		}
	}
	for text, code := range map[string]Code{
		"=/A9999XYZ100T0944=,0000":             TooShort,
		"=>014367":                             BadDate,
		"&>0140602460":                         BadTime,
		"=+05000=/A9997XYZ100T0479=>019031":    TooShort,
		"=/A9997XYZ100T0479=+02000":            BadICCBBA,
		"=/A9997xyz100T0479":                   BadCharset,
		"=/A9997XYZ100T0479=/A9997XYZ100T0479": Repeated,
		"=O9999171234560":                      BadICCBBA,
	} {
		var e *Error
		if _, err := ParseICCBBA(text, now); !errors.As(err, &e) || e.Code != code {
			t.Errorf("%s: %v, want %s", text, err, code)
		}
	}
}
