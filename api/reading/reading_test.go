package reading_test

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	"lotbook/api/reading"
	"lotbook/inventory"
	"lotbook/scanner"
	"lotbook/scanner/picture"
	"lotbook/trace"
)

var opts = scanner.Options{Now: time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)}

// The texts are element strings laid out as the GS1 General Specifications,
// section 3, say; the labels are invented.
const (
	whole = "]d2010950600010001217280331" + "10D-4711"
	di    = "]C10109506000100012"
	pi    = "]C11728033110D-4711"
	other = "]d2010950600010003617270630" + "10A-882\x1d2155123"
	// No separator and no symbology identifier: the lot may end anywhere
	// before 21, or not at all.
	lost = "010950600010003610A882172706302155123"
)

func codes(lines ...string) []scanner.Code {
	var cs []scanner.Code
	for _, l := range lines {
		cs = append(cs, reading.Text(l, opts)...)
	}
	return cs
}

func TestOutcomes(t *testing.T) {
	dialyzer := inventory.Stock{GTIN: "09506000100012", Lot: "D-4711", Expires: "2028-03-31"}
	for name, tc := range map[string]struct {
		given reading.Given
		want  reading.Outcome
		stock inventory.Stock
		how   trace.How
	}{
		"whole label":             {reading.Given{Codes: codes(whole), How: trace.Scanned}, reading.Ready, dialyzer, trace.Scanned},
		"product alone":           {reading.Given{Codes: codes(di), How: trace.Scanned}, reading.NeedsLot, inventory.Stock{GTIN: "09506000100012"}, trace.Scanned},
		"product, then lot":       {reading.Given{Codes: codes(di, pi), How: trace.Photo}, reading.Ready, dialyzer, trace.Photo},
		"lot, then product":       {reading.Given{Codes: codes(pi, di), How: trace.Scanned}, reading.Ready, dialyzer, trace.Scanned},
		"lot alone":               {reading.Given{Codes: codes(pi), How: trace.Scanned}, reading.NeedsProduct, inventory.Stock{Lot: "D-4711", Expires: "2028-03-31"}, trace.Scanned},
		"lot alone, product said": {reading.Given{Codes: codes(pi), Product: "DLZ", How: trace.Scanned}, reading.Ready, inventory.Stock{Product: "DLZ", Lot: "D-4711", Expires: "2028-03-31"}, trace.Scanned},
		"product, lot typed":      {reading.Given{Codes: codes(di), Lot: "D-4711", Expires: "2028-03-31", How: trace.Scanned}, reading.Ready, dialyzer, trace.Typed},
		"no lot on the pack":      {reading.Given{Codes: codes(di), NoLot: true, How: trace.Scanned}, reading.Ready, inventory.Stock{GTIN: "09506000100012"}, trace.Scanned},
		"typed lot does not win":  {reading.Given{Codes: codes(whole), Lot: "X", How: trace.Scanned}, reading.Ready, dialyzer, trace.Scanned},
		"all typed":               {reading.Given{Product: "DLZ", Lot: "D-4711"}, reading.Ready, inventory.Stock{Product: "DLZ", Lot: "D-4711"}, trace.Typed},
		"nothing":                 {reading.Given{}, reading.NeedsProduct, inventory.Stock{}, trace.Typed},
		"two packs":               {reading.Given{Codes: codes(whole, other), How: trace.Photo}, reading.NeedsChoice, inventory.Stock{}, trace.Photo},
		"two packs, second taken": {reading.Given{Codes: codes(whole, other), Choice: 2, How: trace.Photo}, reading.Ready, inventory.Stock{GTIN: "09506000100036", Lot: "A-882", Serial: "55123", Expires: "2027-06-30"}, trace.Photo},
		"same label twice":        {reading.Given{Codes: codes(whole, whole), How: trace.Photo}, reading.Ready, dialyzer, trace.Photo},
		"till code, then whole":   {reading.Given{Codes: codes("9506000100012", whole), How: trace.Scanned}, reading.Ready, dialyzer, trace.Scanned},
		"whole, then till code":   {reading.Given{Codes: codes(whole, di), How: trace.Photo}, reading.Ready, dialyzer, trace.Photo},
		"till code of another":    {reading.Given{Codes: codes("9506000100036", whole), How: trace.Scanned}, reading.NeedsChoice, inventory.Stock{}, trace.Scanned},
		"separator lost":          {reading.Given{Codes: codes(lost), How: trace.Scanned}, reading.NeedsChoice, inventory.Stock{}, trace.Scanned},
		"HIBC, one symbol":        {reading.Given{Codes: codes("+A99912345/$$52001510X33"), How: trace.Scanned}, reading.Ready, inventory.Stock{Product: "hibc:A99912345", Lot: "10X3", Expires: "2020-01-15"}, trace.Scanned},
		"HIBC, two symbols":       {reading.Given{Codes: codes("+$$52001510X3GD", "+A123BJC5D6E71G"), How: trace.Scanned}, reading.Ready, inventory.Stock{Product: "hibc:A123BJC5D6E71", Lot: "10X3", Expires: "2020-01-15"}, trace.Scanned},
		"HIBC, product alone":     {reading.Given{Codes: codes("+A123BJC5D6E71G"), How: trace.Scanned}, reading.NeedsLot, inventory.Stock{Product: "hibc:A123BJC5D6E71"}, trace.Scanned},
		"ICCBBA":                  {reading.Given{Codes: codes("=/A9999XYZ100T0944=,000025=>014032&,1000000000000XYZ123"), How: trace.Scanned}, reading.Ready, inventory.Stock{Product: "iccbba:A9999XYZ100T0944", Lot: "XYZ123", Serial: "000025", Expires: "2014-02-01"}, trace.Scanned},
		"no code":                 {reading.Given{Codes: codes("hello there"), How: trace.Scanned}, reading.Unreadable, inventory.Stock{}, trace.Scanned},
		"wrong check digit":       {reading.Given{Codes: codes("]d2010950600010001317280331" + "10D-4711"), How: trace.Scanned}, reading.Unreadable, inventory.Stock{}, trace.Scanned},
	} {
		t.Run(name, func(t *testing.T) {
			r := reading.Of(tc.given)
			if r.Outcome != tc.want || !reflect.DeepEqual(r.Stock, tc.stock) || r.How != tc.how {
				t.Fatalf("%s, %+v, %s\nwant %s, %+v, %s", r.Outcome, r.Stock, r.How, tc.want, tc.stock, tc.how)
			}
			if (r.Outcome == reading.Unreadable) != (r.Fault != nil) {
				t.Errorf("outcome %s with fault %v", r.Outcome, r.Fault)
			}
			if (r.Outcome == reading.NeedsChoice) != (len(r.Choices) > 1) {
				t.Errorf("outcome %s with %d choices", r.Outcome, len(r.Choices))
			}
		})
	}
}

// Every reading that is offered can be taken, and is then what was offered.
func TestEveryChoiceCanBeTaken(t *testing.T) {
	g := reading.Given{Codes: codes(lost), How: trace.Scanned}
	choices := reading.Of(g).Choices
	if len(choices) < 2 {
		t.Fatalf("%d choices", len(choices))
	}
	for i, k := range choices {
		g.Choice = i + 1
		r := reading.Of(g)
		if r.Outcome == reading.NeedsChoice || r.Stock.Lot != k.Lot || r.Stock.GTIN != k.GTIN || r.Stock.Serial != k.Serial {
			t.Errorf("choice %d of %+v gave %s %+v", i+1, k, r.Outcome, r.Stock)
		}
	}
}

func TestPictures(t *testing.T) {
	read := func(name string) []scanner.Code {
		b, err := os.ReadFile(filepath.Join("testdata", name))
		if err != nil {
			t.Fatal(err)
		}
		cs, err := reading.Picture(context.Background(), bytes.NewReader(b), picture.Options{}, opts)
		if err != nil {
			t.Fatal(err)
		}
		return cs
	}
	for name, want := range map[string]inventory.Stock{
		"dialyzer-datamatrix.png": {GTIN: "09506000100012", Lot: "D-4711", Expires: "2028-03-31"},
		"acid-datamatrix.png":     {GTIN: "09506000100036", Lot: "A-882", Serial: "55123", Expires: "2027-06-30"},
		"dialyzer-di-128.png":     {GTIN: "09506000100012"},
	} {
		cs := read(name)
		r := reading.Of(reading.Given{Codes: cs, How: trace.Photo})
		if !reflect.DeepEqual(r.Stock, want) {
			t.Errorf("%s: %+v, want %+v", name, r.Stock, want)
		}
		again := reading.Carried(reading.Carry(cs), opts)
		if !reflect.DeepEqual(again, cs) {
			t.Errorf("%s: carried and read again: %+v, want %+v", name, again, cs)
		}
	}
	cs, err := reading.Picture(context.Background(), bytes.NewReader([]byte("no picture at all")), picture.Options{}, opts)
	if err != nil || len(cs) != 1 || cs[0].Error == nil || cs[0].Error.Code != "not_a_picture" {
		t.Errorf("text sent as a picture: %+v, %v", cs, err)
	}
	if r := reading.Of(reading.Given{Codes: cs, How: trace.Photo}); r.Outcome != reading.Unreadable {
		t.Errorf("text sent as a picture: %s", r.Outcome)
	}
}

// Of several readings the one whose lot is on record is taken, and only if it is
// the only one.
func TestLotOnRecord(t *testing.T) {
	choices := reading.Of(reading.Given{Codes: codes(lost), How: trace.Scanned}).Choices
	var lots []string
	for _, k := range choices {
		lots = append(lots, k.Lot)
	}
	known := map[string]bool{}
	g := reading.Given{Codes: codes(lost), How: trace.Scanned, OnRecord: func(gtin, lot string, _ inventory.Date) bool {
		return gtin == "09506000100036" && known[lot]
	}}
	if r := reading.Of(g); r.Outcome != reading.NeedsChoice || len(r.Choices) != len(lots) {
		t.Errorf("nothing on record: %s with %d choices", r.Outcome, len(r.Choices))
	}
	known[lots[1]] = true
	if lots[0] == lots[1] {
		t.Fatalf("the readings of %q have the same lot %q", lost, lots[0])
	}
	r := reading.Of(g)
	if r.Stock.Lot != lots[1] || len(r.Others) != len(lots) || len(r.Warnings) == 0 || r.Warnings[len(r.Warnings)-1].Code != "lot_on_record" {
		t.Errorf("lot %q on record: %s %+v, warnings %+v", lots[1], r.Outcome, r.Stock, r.Warnings)
	}
	g.Choice = 1
	if r := reading.Of(g); r.Stock.Lot != lots[0] {
		t.Errorf("a person chose %q, taken was %q", lots[0], r.Stock.Lot)
	}
	g.Choice = 0
	known[lots[0]] = true
	if r := reading.Of(g); r.Outcome != reading.NeedsChoice {
		t.Errorf("two lots on record: %s", r.Outcome)
	}
}

// Two packs in one line are never taken as one of them, even if just one of the
// readings is on record. The text is two element strings of the GS1 General
// Specifications, section 3, run together as a keyboard scanner without a suffix
// does.
func TestTwoPacksInOneLine(t *testing.T) {
	const two = "0109520012001129" + "17280507" + "10S26844" + "0109520012001112" + "17270902" + "10HS2125"
	for _, line := range []string{two, "]C1" + two} {
		g := reading.Given{Codes: codes(line), How: trace.Scanned, OnRecord: func(_, lot string, _ inventory.Date) bool { return lot == "S26844" }}
		if r := reading.Of(g); r.Outcome == reading.Ready || (r.Outcome == reading.NeedsChoice && !r.RunTogether) {
			t.Errorf("%q: %s %+v, run together: %v", line, r.Outcome, r.Stock, r.RunTogether)
		}
	}
	if r := reading.Of(reading.Given{Codes: codes(whole), How: trace.Scanned}); r.RunTogether {
		t.Error("one label was taken for two")
	}
}
