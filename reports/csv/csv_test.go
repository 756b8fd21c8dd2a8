package csv_test

import (
	"bytes"
	"context"
	stdcsv "encoding/csv"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	"pgregory.net/rapid"

	"lotbook/reports"
	"lotbook/reports/csv"
)

var update = flag.Bool("update", false, "write the golden files anew")

func write(t *testing.T, tab *reports.Table, opts csv.Options) string {
	t.Helper()
	var buf bytes.Buffer
	if err := csv.Write(t.Context(), &buf, tab, opts); err != nil {
		t.Fatal(err)
	}
	return buf.String()
}

func allKinds() *reports.Table {
	at := time.Date(2026, 11, 1, 5, 30, 7, 0, time.UTC)
	return &reports.Table{
		Columns: []reports.Column{
			{Header: "Lot", Kind: reports.KindText},
			{Header: "Packs", Kind: reports.KindInteger},
			{Header: "Dialysate (L)", Kind: reports.KindDecimal, Places: 1},
			{Header: "Expires", Kind: reports.KindDate},
			{Header: "Used", Kind: reports.KindInstant},
			{Header: "Length (min)", Kind: reports.KindMinutes},
			{Header: "Replaced, \"yes\" or no", Kind: reports.KindFlag},
		},
		Rows: reports.RowsOf(
			[]reports.Cell{
				reports.Text("0012"), reports.Integer(-1234567), reports.Decimal(172800, 3), reports.Date(2027, 3, 31),
				reports.Instant(at), reports.Minutes(255), reports.Flag(true),
			},
			[]reports.Cell{
				reports.Text("(not recorded)"), reports.Integer(1 << 62), reports.Decimal(-5, 3), reports.Date(1899, 12, 31),
				reports.Instant(at.Add(time.Hour)), reports.Minutes(-15), reports.Flag(false),
			},
			[]reports.Cell{
				reports.NotRecorded(), reports.NoneFound(), reports.Mark("=1+1"), reports.Mark(`a,"b"`),
				reports.Blank(), reports.DateText("2027-02-30"), reports.Text("a\x1db,\"c\"\r\nd"),
			},
		),
	}
}

func TestGolden(t *testing.T) {
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	got := write(t, allKinds(), csv.Options{Zone: zone, BOM: true})
	name := filepath.Join("testdata", "kinds.csv")
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("differs from %s (go test -update writes it anew):\n%s", name, got)
	}
}

// TestReadBack reads with the standard library's reader: every text comes back
// after Unguard, and no field begins like a formula.
func TestReadBack(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		start := rapid.SampledFrom([]string{"", "=", "+", "-", "@", "＝", "＋", "－", "＠", "'", "''", "\t=", "\r", "\n", "\x00", "\"", ",", ";="})
		text := rapid.Custom(func(rt *rapid.T) string {
			return start.Draw(rt, "start") + rapid.OneOf(rapid.String(), rapid.Map(rapid.SliceOf(rapid.Byte()), func(b []byte) string { return string(b) })).Draw(rt, "rest")
		})
		texts := rapid.SliceOfN(text, 1, 8).Draw(rt, "texts")
		tab := &reports.Table{Columns: []reports.Column{{Header: "=H", Kind: reports.KindText}, {Header: "M", Kind: reports.KindDate}}}
		var rows [][]reports.Cell
		for _, s := range texts {
			rows = append(rows, []reports.Cell{reports.Text(s), reports.Mark(s)})
		}
		tab.Rows = reports.RowsOf(rows...)
		var buf bytes.Buffer
		if err := csv.Write(context.Background(), &buf, tab, csv.Options{}); err != nil {
			rt.Fatal(err)
		}
		records, err := stdcsv.NewReader(&buf).ReadAll()
		if err != nil {
			rt.Fatal(err)
		}
		if len(records) != len(texts)+1 || csv.Unguard(records[0][0]) != "=H" {
			rt.Fatalf("records %q", records)
		}
		for i, s := range texts {
			rec := records[i+1]
			if got, want := csv.Unguard(rec[0]), reports.Visible(s, false); got != want {
				rt.Fatalf("%q came back as %q", want, got)
			}
			if got, want := rec[1], "("+reports.Visible(s, false)+")"; got != want {
				rt.Fatalf("mark %q came back as %q", want, got)
			}
			for _, f := range rec {
				for _, p := range []string{"=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"} {
					if strings.HasPrefix(f, p) {
						rt.Fatalf("the field %q begins like a formula", f)
					}
				}
			}
		}
	})
}

func TestGuard(t *testing.T) {
	for in, want := range map[string]string{
		"": "", "a": "a", "=1+1": "'=1+1", "+A99912345/$$52001510X3": "'+A99912345/$$52001510X3",
		"-2": "'-2", "@x": "'@x", "'a": "''a", "''": "'''", "＝1": "'＝1", " =1": " =1",
	} {
		if got := csv.Guard(in); got != want || csv.Unguard(got) != in {
			t.Errorf("%q: %q, back %q", in, got, csv.Unguard(got))
		}
	}
}

func TestErrors(t *testing.T) {
	boom := errors.New("boom")
	cancelled, cancel := context.WithCancel(context.Background())
	cancel()
	col := reports.Column{Header: "N", Kind: reports.KindInteger}
	rows := func(c ...reports.Cell) *reports.Table {
		return &reports.Table{Columns: []reports.Column{col}, Rows: reports.RowsOf(c)}
	}
	fails := &reports.Table{Columns: []reports.Column{col}, Rows: func(yield func([]reports.Cell, error) bool) { yield(nil, boom) }}
	cases := []struct {
		name string
		ctx  context.Context
		tab  *reports.Table
		want error
	}{
		{"columns", t.Context(), &reports.Table{}, reports.ErrBadTable},
		{"kind", t.Context(), rows(reports.Flag(true)), reports.ErrBadRow},
		{"length", t.Context(), rows(reports.Integer(1), reports.Integer(2)), reports.ErrBadRow},
		{"rows", t.Context(), fails, boom},
		{"context", cancelled, rows(reports.Integer(1)), context.Canceled},
	}
	for _, c := range cases {
		if err := csv.Write(c.ctx, &bytes.Buffer{}, c.tab, csv.Options{}); !errors.Is(err, c.want) {
			t.Errorf("%s: got %v, want %v", c.name, err, c.want)
		}
	}
	for _, n := range []int64{1, 100_000} {
		many := &reports.Table{Columns: []reports.Column{col}, Rows: func(yield func([]reports.Cell, error) bool) {
			for i := range n {
				if !yield([]reports.Cell{reports.Integer(i)}, nil) {
					return
				}
			}
		}}
		if err := csv.Write(t.Context(), failing{boom}, many, csv.Options{}); !errors.Is(err, boom) {
			t.Errorf("%d rows: got %v", n, err)
		}
	}
}

type failing struct{ err error }

func (f failing) Write([]byte) (int, error) { return 0, f.err }

func BenchmarkWrite(b *testing.B) {
	const rows = 100_000
	cols := make([]reports.Column, 12)
	row := make([]reports.Cell, 12)
	for i := range cols {
		cols[i] = reports.Column{Header: "C" + strconv.Itoa(i), Kind: reports.KindText}
		row[i] = reports.Text("24A117")
		if i%2 == 0 {
			cols[i].Kind, row[i] = reports.KindInteger, reports.Integer(int64(i))
		}
	}
	tab := &reports.Table{Columns: cols, Rows: func(yield func([]reports.Cell, error) bool) {
		for range rows {
			if !yield(row, nil) {
				return
			}
		}
	}}
	b.ReportAllocs()
	var out counter
	for b.Loop() {
		out = 0
		if err := csv.Write(b.Context(), &out, tab, csv.Options{}); err != nil {
			b.Fatal(err)
		}
	}
	b.SetBytes(int64(out))
}

type counter int

func (c *counter) Write(p []byte) (int, error) { *c += counter(len(p)); return len(p), nil }
