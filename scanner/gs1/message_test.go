package gs1_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"lotbook/scanner/gs1"
)

func values(els []gs1.Element) string {
	var b strings.Builder
	for _, e := range els {
		b.WriteString("(" + e.AI.Code() + ")" + e.Value)
	}
	return b.String()
}

// The pairs are from the attributes of the GS1 Barcode Syntax Dictionary.
func TestCheck(t *testing.T) {
	for _, c := range []struct {
		text string
		want gs1.Code
	}{
		{"(01)09506000117843(02)09506000134352(37)5", gs1.MutexAI},
		{"(01)09506000117843(37)5", gs1.MutexAI},
		{"(01)09506000117843(255)9501101530003", gs1.MutexAI},
		{"(01)09506000117843(21)A(235)B", gs1.MutexAI},
		{"(8017)950600012345678907(8018)950600012345678907", gs1.MutexAI},
		{"(01)09506000117843(3100)000001(3101)000010", gs1.MutexAI},
		{"(01)09506000117843(3100)000001(3110)000010", ""},
		{"(00)006141411234567890(4330)000100(4331)000100", gs1.MutexAI},
		{"(01)09506000117843(10)A(10)B", gs1.ConflictingRepeat},
		{"(01)09506000117843(10)A(10)A", ""},
		{"(01)09506000117843(10)A(01)09506000117843", ""},
		{"(01)09506000117843(01)09506000134352", gs1.ConflictingRepeat},
	} {
		_, err := gs1.ParseBracketed(c.text, now)
		var e *gs1.Error
		switch {
		case c.want == "" && err != nil:
			t.Errorf("%s: %v", c.text, err)
		case c.want != "" && (!errors.As(err, &e) || e.Code != c.want):
			t.Errorf("%s: %v, want %s", c.text, err, c.want)
		}
	}
}

func TestMissing(t *testing.T) {
	for text, want := range map[string]string{
		"(01)09506000117843(17)271231(10)A(21)B":        "",
		"(17)271231(10)A":                               "17 10",
		"(01)09506000117843(250)X":                      "250",
		"(01)09506000117843(21)S(250)X":                 "",
		"(02)09506000134352":                            "02",
		"(01)09506000117843(7004)1000":                  "7004",
		"(01)09506000117843(10)L(7004)1000":             "",
		"(01)09506000117843(3920)100":                   "3920",
		"(01)09506000117843(3103)000100(3920)100":       "",
		"(00)006141411234567890(02)09506000134352(37)2": "",
		"(8019)42":                         "8019",
		"(8018)950600012345678907(8019)42": "",
		"(01)09506000117843(21)S(8040)123456789012345(8041)123456789012345": "",
		"(01)09506000117843(21)S(8041)123456789012345":                      "8041",
	} {
		els, err := gs1.ParseBracketed(text, now)
		if err != nil {
			t.Errorf("%s: %v", text, err)
			continue
		}
		var got []string
		for _, w := range gs1.Missing(els) {
			if w.Code != gs1.RequisiteAI || w.Message == "" {
				t.Errorf("%s: %+v", text, w)
			}
			got = append(got, w.AI)
		}
		if strings.Join(got, " ") != want {
			t.Errorf("%s: missing partners for %v, want %s", text, got, want)
		}
	}
}

func TestBracketed(t *testing.T) {
	for text, want := range map[string]string{
		"(01) 09506000117843 (10) LOT42 ": "(01)09506000117843(10)LOT42",
		"(10)A(B)C":                       "(10)A(B)C",
		"(10)A(1)C":                       "(10)A(1)C",
		`(10)12345\(11)991225`:            "(10)12345(11)991225",
		"(10)12345(":                      "(10)12345(",
		"(10)A)B":                         "(10)A)B",
		"(10)A\x1d(21)B":                  "(10)A(21)B",
		"(3103)000100(10)X":               "(3103)000100(10)X",
	} {
		els, err := gs1.ParseBracketed(text, now)
		if err != nil || values(els) != want {
			t.Errorf("%q: %s, %v", text, values(els), err)
		}
		again, err := gs1.ParseBracketed(gs1.FormatBracketed(els), now)
		if err != nil || !slices.Equal(again, els) {
			t.Errorf("%q: written and read again: %s, %v", text, values(again), err)
		}
	}
	for text, want := range map[string]gs1.Code{
		"(10)(11)991225":               gs1.EmptyValue,
		"(10)12345(11)":                gs1.EmptyValue,
		"(1A)12345":                    gs1.BadBrackets,
		"12345":                        gs1.BadBrackets,
		"()12345":                      gs1.BadBrackets,
		"(12345)12345":                 gs1.BadBrackets,
		"(15":                          gs1.BadBrackets,
		"(":                            gs1.BadBrackets,
		"(18)123456":                   gs1.UnknownAI,
		"(10)A(18)123456":              gs1.UnknownAI,
		"(012)3":                       gs1.UnknownAI,
		"(01)123456789012312(10)12345": gs1.TooLong,
		"(01)950600011784":             gs1.TooShort,
		"(10)12345^":                   gs1.BadCharset,
		"(17)9(90)217":                 gs1.TooShort,
		"":                             gs1.UnknownAI,
	} {
		_, err := gs1.ParseBracketed(text, now)
		var e *gs1.Error
		if !errors.As(err, &e) || e.Code != want {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
}

// The order of qualifiers, the stems and the encodings are cases of the tests
// of GS1's syntax engine, or follow from GS1 Digital Link: URI Syntax 1.6.
func TestLink(t *testing.T) {
	for uri, want := range map[string]string{
		"http://a/00/006141411234567890":                                    "(00)006141411234567890",
		"https://a/00/faux/00/006141411234567890":                           "(00)006141411234567890",
		"https://a.:8080/x/y/01/12312312312333":                             "(01)12312312312333",
		"https://a/01/12312312312333/22/V/10/L/21/S":                        "(01)12312312312333(22)V(10)L(21)S",
		"https://a/01/12312312312333/22/V/21/S":                             "(01)12312312312333(22)V(21)S",
		"https://a/01/12312312312333/235/T":                                 "(01)12312312312333(235)T",
		"https://a/01/12312312312333/10/A+B%2BC":                            "(01)12312312312333(10)A+B+C",
		"https://a/8006/123123123123330102/22/V/10/L":                       "(8006)123123123123330102(22)V(10)L",
		"https://a/8010/9506000A%23/8011/1":                                 "(8010)9506000A#(8011)1",
		"https://a/8013/1987654Ad4X4bL5ttr2310c2K":                          "(8013)1987654Ad4X4bL5ttr2310c2K",
		"https://a/414/9520123456788/7040/1ABC":                             "(414)9520123456788(7040)1ABC",
		"https://a/417/9520123456788/7040/1ABC":                             "(417)9520123456788(7040)1ABC",
		"https://a/415/9520123456788/8020/R":                                "(415)9520123456788(8020)R",
		"https://a/8004/9520ABC/7040/1ABC":                                  "(8004)9520ABC(7040)1ABC",
		"https://a/253/9501101530003X":                                      "(253)9501101530003X",
		"https://a/01/12312312312333?17=271231&&x&y=1&3103=000195#f?x":      "(01)12312312312333(17)271231(3103)000195",
		"https://a/gtin/12312312312333/lot/L/ser/S":                         "(01)12312312312333(10)L(21)S",
		"https://a/01/9520123456788":                                        "(01)09520123456788",
		"https://a/01/614141999996":                                         "(01)00614141999996",
		"https://a/01/95060002":                                             "(01)00000095060002",
		"https://a/01/12312312312333?10=L&21=S":                             "(01)12312312312333(10)L(21)S",
		"https://a/01/12312312312333/10/L/":                                 "(01)12312312312333(10)L",
		"https://a/01/12312312312333/10/5%25":                               "(01)12312312312333(10)5%",
		"https://a/01/12312312312333/10/5%":                                 "(01)12312312312333(10)5%",
		"HTTPS://A/01/12312312312333/10/%61%2fB":                            "(01)12312312312333(10)a/B",
		"https://a/401/9520X":                                               "(401)9520X",
		"https://a/00/952012345678912345?02=09520123456788&37=25&10=ABC123": "(00)952012345678912345(02)09520123456788(37)25(10)ABC123",
		"https://a/8018/950600012345678907/8019/1":                          "(8018)950600012345678907(8019)1",
	} {
		l, err := gs1.ParseLink(uri, now)
		if err != nil || values(l.Elements) != want {
			t.Errorf("%s: %s, %v", uri, values(l.Elements), err)
		}
	}
	for uri, want := range map[string]gs1.Code{
		"https://a":                                            gs1.LinkNoKey,
		"https://a/":                                           gs1.LinkNoKey,
		"https://a/01":                                         gs1.LinkNoKey,
		"https://00/006141411234567890":                        gs1.LinkNoKey,
		"https://a/10/ABC":                                     gs1.LinkNoKey,
		"https://a/01/12312312312333/x/y":                      gs1.LinkNoKey,
		"https://a b/01/12312312312333":                        gs1.LinkBadURI,
		"https://a$/01/12312312312333":                         gs1.LinkBadURI,
		"https://a/01/12312312312333/10/Ü":                     gs1.LinkBadURI,
		"ftp://a/01/12312312312333":                            gs1.LinkBadURI,
		"https://a/01/12312312312334":                          gs1.BadCheckDigit,
		"https://a/01/12312312312333/10/L/22/V":                gs1.LinkPathOrder,
		"https://a/01/12312312312333/21/S/235/T":               gs1.LinkPathOrder,
		"https://a/01/12312312312333/10/L/10/L":                gs1.LinkPathOrder,
		"https://a/00/006141411234567890/10/L":                 gs1.LinkPathOrder,
		"https://a/01/12312312312333/10/":                      gs1.LinkNoKey,
		"https://a/01/12312312312333?17=":                      gs1.EmptyValue,
		"https://a/01/12312312312333?17=271231&17=271231":      gs1.LinkDuplicate,
		"https://a/01/12312312312333/10/L?10=L":                gs1.LinkDuplicate,
		"https://a/01/12312312312333?03=12312312312333":        gs1.LinkNotAttribute,
		"https://a/01/12312312312333?18=1":                     gs1.LinkUnknownParam,
		"https://a/01/12312312312333?17=271301":                gs1.BadDate,
		"https://a/01/12312312312333/10/A%1DB":                 gs1.BadCharset,
		"https://a/01/12312312312333/10/A%00B":                 gs1.BadCharset,
		"https://a/01/12312312312333/10/A%20B":                 gs1.BadCharset,
		"https://a/01/12312312312333/10/%C3%9C":                gs1.BadCharset,
		"https://a/01/12312312312333/21/S?235=T":               gs1.MutexAI,
		"https://a/01/1231231231233":                           gs1.BadCheckDigit,
		"https://a/01/123123123123":                            gs1.BadCheckDigit,
		"https://a/01/12312312312":                             gs1.TooShort,
		"https://a/01/12312312312333/10/123456789012345678901": gs1.TooLong,
		"https://a/01/12312312312333?90=A+B":                   gs1.BadCharset,
	} {
		l, err := gs1.ParseLink(uri, now)
		var e *gs1.Error
		if !errors.As(err, &e) || e.Code != want {
			t.Errorf("%s: %s, %v, want %s", uri, values(l.Elements), err, want)
		}
	}
}

func TestLinkWarnings(t *testing.T) {
	for uri, want := range map[string]gs1.Code{
		"https://a/01/9520123456788":                     gs1.LinkShortGTIN,
		"https://a/gtin/09520123456788":                  gs1.LinkWord,
		"https://a/01/09520123456788?10=L":               gs1.LinkParamInQuery,
		"https://a/01/09520123456788/10/L/":              gs1.LinkTrailingSlash,
		"https://a/01/09520123456788/10/5%":              gs1.LinkBadPercent,
		"https://a/01/09520123456788?lot=ABC":            gs1.LinkParamIgnored,
		"https://a/01/09520123456788/10/L?17=271231&x=1": "",
	} {
		l, err := gs1.ParseLink(uri, now)
		if err != nil {
			t.Errorf("%s: %v", uri, err)
			continue
		}
		switch {
		case want == "" && len(l.Warnings) != 0:
			t.Errorf("%s: %v", uri, l.Warnings)
		case want != "" && (len(l.Warnings) != 1 || l.Warnings[0].Code != want):
			t.Errorf("%s: %v, want %s", uri, l.Warnings, want)
		}
	}
}

// The UPC-E expansions are the examples of figure 5.2.2.4.2-1 of the GS1 General
// Specifications (from memory) with check digits by its rule.
func TestGTIN(t *testing.T) {
	for s, want := range map[string]string{
		"95060002": "00000095060002", "614141999996": "00614141999996", "9506000117843": "09506000117843", "19506000117840": "19506000117840",
	} {
		if got, err := gs1.PadGTIN(s); err != nil || got != want {
			t.Errorf("%s: %s, %v", s, got, err)
		}
	}
	for s, want := range map[string]gs1.Code{"9506000117842": gs1.BadCheckDigit, "950600011784": gs1.BadCheckDigit, "95060": gs1.BadLength, "950600O117843": gs1.NotDigits, "": gs1.NotDigits} {
		_, err := gs1.PadGTIN(s)
		var e *gs1.Error
		if !errors.As(err, &e) || e.Code != want {
			t.Errorf("%q: %v", s, err)
		}
	}
	if full, ok := gs1.ExpandUPCE("01234565"); !ok || full != "012345000065" {
		t.Errorf("UPC-E 01234565: %s %v", full, ok)
	}
	// 01234565 is valid as both; the fact is common in the trade.
	if e, u := gs1.ReadEight("01234565"); e != "00000001234565" || u != "00012345000065" {
		t.Errorf("01234565: %s %s", e, u)
	}
	if e, u := gs1.ReadEight("95060002"); e != "00000095060002" || u != "" {
		t.Errorf("95060002: %s %s", e, u)
	}
	for _, c := range []struct{ eight, full string }{
		{"04252614", "042100005264"}, // six digits 425261, from memory
		{"01278907", "012000007897"},
	} {
		if full, ok := gs1.ExpandUPCE(c.eight); !ok || full != c.full {
			t.Errorf("UPC-E %s: %s %v, want %s", c.eight, full, ok, c.full)
		}
	}
	// Indicator 3 would be a case; 0 is the unit. NDC 12345-678-90, invented.
	check, _ := gs1.CheckDigit("0031234567890")
	if ndc, ok := gs1.NDC10("0031234567890" + string(check)); !ok || ndc != "1234567890" {
		t.Errorf("NDC: %s %v", ndc, ok)
	}
	if _, ok := gs1.NDC10("09506000117843"); ok {
		t.Error("an NDC in a GTIN that has none")
	}
	if i, ok := gs1.Indicator("19506000117840"); !ok || i != 1 {
		t.Error("indicator")
	}
}
