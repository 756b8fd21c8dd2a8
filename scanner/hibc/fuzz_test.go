package hibc

import "testing"

// No text makes the readers panic, and a text that was read has its check
// character.
func FuzzParse(f *testing.F) {
	for _, s := range []string{
		"+A123BJC5D6E71G", "+$$52001510X3GD", "*+A99912345/$$52001510X33*", "+A99912345/$$52001510X3/16D20111212/S77DEFG457",
		"+$$+30509280001L.", "=/A9999XYZ100T0944=,000025=>014032&,1000000000000XYZ123",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if l, err := Parse(s, now); err == nil && len(l.Fields) < 2 {
			t.Errorf("%q was read as %+v", s, l)
		}
		if l, err := ParseICCBBA(s, now); err == nil && len(l.Fields) == 0 {
			t.Errorf("%q was read as %+v", s, l)
		}
	})
}
