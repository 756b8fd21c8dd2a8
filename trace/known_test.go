package trace_test

import (
	"fmt"
	"reflect"
	"testing"

	"lotbook/inventory"
	"lotbook/scanner/wedge"
	"lotbook/trace"
)

func (u *unit) known(gtin string) (k *wedge.Known) {
	u.t.Helper()
	err := u.View(ctx, func(r inventory.Reader) (err error) {
		k, err = inventory.KnownOf(r, gtin)
		return err
	})
	if err != nil {
		u.t.Fatal(err)
	}
	return k
}

// What confirmed scans show of a product's labels is learned, and nothing else
// is; the store is verified when the test ends.
func TestLabelsAreLearned(t *testing.T) {
	u := newUnit(t)
	id := u.open("P1", "S1")
	scan := func(how trace.How, lot, serial string, order ...string) inventory.Receipt {
		t.Helper()
		return u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{
			Treatment: id, How: how, Order: order,
			Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: lot, Serial: serial, Expires: "2027-06-30"},
		}))
	}
	scan(trace.Typed, "D1", "1", "01", "17", "10", "21")
	scan(trace.Scanned, "D2", "2")                   // in doubt
	scan(trace.Scanned, "D3", "3", "01", "17", "10") // the serial was not in it
	scan(trace.Scanned, "", "4", "01", "17", "10")   // nor the lot
	scan(trace.Scanned, "D5", "5", "17", "10", "21") // nor the product
	if k := u.known(gtinDialyzer); k != nil {
		t.Errorf("learned from what shows nothing: %+v", k)
	}
	first := scan(trace.Scanned, "D-6", "66", "01", "17", "10", "21")
	scan(trace.Photo, "d77", "", "01", "17", "10")
	scan(trace.Scanned, "X-8", "88", "01", "17", "10", "21")
	want := &wedge.Known{
		Orders: [][]string{{"01", "17", "10", "21"}, {"01", "17", "10"}},
		Lots:   []wedge.Mask{"A-9", "a99"}, Serials: []wedge.Mask{"99"},
	}
	if k := u.known(gtinDialyzer); !reflect.DeepEqual(k, want) {
		t.Errorf("learned %+v, want %+v", k, want)
	}
	if k := u.known(gtinNeedle); k != nil {
		t.Errorf("of another product: %+v", k)
	}
	u.ok(u.Correct(ctx, u.by("nurse"), first.Entries[0].Seq, "another pack"))
	want = &wedge.Known{Orders: [][]string{{"01", "17", "10"}}, Lots: []wedge.Mask{"a99"}}
	if k := u.known(gtinDialyzer); !reflect.DeepEqual(k, want) {
		t.Errorf("after a correction %+v, want %+v", k, want)
	}
	// A stopped scan teaches once it was used all the same.
	held := u.ok(u.Scan(ctx, u.by("nurse"), trace.Scan{
		Treatment: id, How: trace.Scanned, Order: []string{"01", "17", "10"},
		Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: "OLD99", Expires: "2025-06-30"},
	}))
	if k := u.known(gtinDialyzer); !reflect.DeepEqual(k, want) {
		t.Errorf("a stopped scan taught %+v", k)
	}
	u.ok(u.Answer(ctx, u.by("nurse"), trace.Answer{Treatment: id, Stopped: held.Entries[0].Seq, Used: true, Reason: "the only one"}))
	want.Lots = append(want.Lots, "AAA99")
	if k := u.known(gtinDialyzer); !reflect.DeepEqual(k, want) {
		t.Errorf("used all the same taught %+v, want %+v", k, want)
	}
	// Random serials have a new shape each time; the row has its bound.
	for i := range 40 {
		serial := []byte("000000")
		for bit := range serial {
			if i>>bit&1 == 1 {
				serial[bit] = 'A'
			}
		}
		scan(trace.Scanned, fmt.Sprintf("L%02d", i), string(serial), "01", "17", "10", "21")
	}
	if k := u.known(gtinDialyzer); len(k.Serials) != 16 {
		t.Errorf("%d shapes of serials are kept, want 16", len(k.Serials))
	}
}
