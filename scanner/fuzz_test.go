package scanner_test

import (
	"encoding/json"
	"reflect"
	"testing"

	"lotbook/scanner"
)

// FuzzRead holds that no text makes the reader panic, that an error comes with
// nothing guessed, and that a code survives its JSON form.
func FuzzRead(f *testing.F) {
	for _, v := range vectors(f) {
		f.Add(v.Input)
	}
	f.Fuzz(func(t *testing.T, text string) {
		cs := scanner.Read(text, opts)
		for _, c := range append(cs, scanner.FromSymbol("]d2", text, opts)) {
			if c.Error != nil {
				if len(c.Elements)+len(c.Candidates) > 0 || c.GTIN+c.Lot+c.Serial+c.Expires+c.Made != "" || c.Quantity != 0 {
					t.Errorf("%q: an error with something guessed: %+v", text, c)
				}
				if c.Error.Code == "" || c.Error.Message == "" {
					t.Errorf("%q: %+v", text, c.Error)
				}
				continue
			}
			if len(c.Candidates) == 1 {
				t.Errorf("%q: a list of one: %+v", text, c)
			}
			b, err := json.Marshal(c)
			if err != nil {
				t.Fatal(err)
			}
			var again scanner.Code
			if err := json.Unmarshal(b, &again); err != nil {
				t.Fatal(err)
			}
			if c.Carrier != scanner.CarrierPlain && !reflect.DeepEqual(c.Elements, again.Elements) && len(c.Elements) > 0 {
				t.Errorf("%q: %+v became %+v", text, c, again)
			}
		}
		scanner.Join(cs)
	})
}
