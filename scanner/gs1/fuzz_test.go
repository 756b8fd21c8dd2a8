package gs1_test

import (
	"slices"
	"testing"

	"lotbook/scanner/gs1"
)

// What was read is written and read again as the same.
func FuzzParse(f *testing.F) {
	for _, s := range []string{
		"01095060001178431727123110A\x1d21B", "70032712311430\x1d10T9", "80131987654Ad4X4bL5ttr2310c2K",
		"(01)09506000117843(10)A(B)", "2539501101530003X", "8110106141416543213500110000310123196000",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		els, err := gs1.Parse(s, now)
		if err == nil {
			again, err := gs1.Parse(gs1.Format(els), now)
			if err != nil || !slices.Equal(els, again) {
				t.Errorf("%q: %v became %v, %v", s, els, again, err)
			}
			for _, e := range els {
				e.Date(now)
			}
			gs1.Missing(els)
		}
		if els, err := gs1.ParseBracketed(s, now); err == nil {
			again, err := gs1.ParseBracketed(gs1.FormatBracketed(els), now)
			if err != nil || !slices.Equal(els, again) {
				t.Errorf("%q: %v became %v, %v", s, els, again, err)
			}
		}
	})
}

// No address makes the reader panic, and what it reads is valid by itself.
func FuzzParseLink(f *testing.F) {
	for _, s := range []string{
		"https://id.gs1.org/01/09520123456788/10/ABC1/21/12345?17=180426", "http://a/gtin/12312312312333?10=%2F+&x#y",
		"https://a/8010/9506000A%23/8011/1/",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		l, err := gs1.ParseLink(s, now)
		if err != nil {
			return
		}
		for _, e := range l.Elements {
			if !e.AI.Accepts(e.Value, now) {
				t.Errorf("%q: %s holds %q", s, e.AI.Code(), e.Value)
			}
		}
	})
}
