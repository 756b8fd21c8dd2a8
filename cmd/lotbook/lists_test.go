package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
	"lotbook/trace"
	"lotbook/trace/intake"
)

// lotbook runs the program and returns what it printed.
func lotbook(t *testing.T, want int, args ...string) (stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	e := &env{stdin: strings.NewReader(""), stdout: &out, stderr: &errs, now: scriptTime, getenv: func(string) string { return "" }}
	if code := run(context.Background(), e, args); code != want {
		t.Fatalf("lotbook %s: exit %d, want %d\n%s%s", strings.Join(args, " "), code, want, out.String(), errs.String())
	}
	return out.String(), errs.String()
}

// bookIn opens the book in a folder for as long as fn runs.
func bookIn(t *testing.T, dir string, fn func(*trace.Book)) {
	t.Helper()
	h, err := openHouse(t.Context(), &env{now: scriptTime, stderr: io.Discard}, dir, boltstore.Options{})
	if err != nil {
		t.Fatal(err)
	}
	fn(h.book)
	if err := h.store.Close(); err != nil {
		t.Fatal(err)
	}
}

// emptyLike makes a new book with the places, machines and stations of another.
func emptyLike(t *testing.T, dir, like string) {
	t.Helper()
	pw := filepath.Join(t.TempDir(), "pw")
	if err := os.WriteFile(pw, []byte("a long enough invented one\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	e := &env{stdin: strings.NewReader("a long enough invented one\n"), stdout: new(bytes.Buffer), stderr: new(bytes.Buffer), now: scriptTime, getenv: func(string) string { return "" }}
	if code := run(t.Context(), e, []string{"user", "add", "--data", dir, "--id", "ada", "--name", "Ada Invented", "--role", "administrator"}); code != exitOK {
		t.Fatalf("user add: %s", e.stderr)
	}
	var unit *inventory.Unit
	var locs []inventory.Location
	var machines []trace.Machine
	var stations []trace.Station
	bookIn(t, like, func(b *trace.Book) {
		err := b.View(t.Context(), func(r inventory.Reader) error {
			var errs [4]error
			unit, errs[0] = b.Unit(r)
			locs, errs[1] = inventory.Locations(r)
			machines, errs[2] = trace.Machines(r)
			stations, errs[3] = trace.Stations(r)
			return errors.Join(errs[:]...)
		})
		if err != nil {
			t.Fatal(err)
		}
	})
	bookIn(t, dir, func(b *trace.Book) {
		call := inventory.Call{Actor: "ada"}
		u := *unit
		u.Defaults = nil // they name products, which the list brings
		step := func(_ inventory.Receipt, err error) {
			if err != nil {
				t.Fatal(err)
			}
		}
		step(b.SetUnit(t.Context(), call, u))
		for _, l := range locs {
			step(b.SetLocation(t.Context(), call, l))
		}
		for _, m := range machines {
			step(b.SetMachine(t.Context(), call, m))
		}
		for _, s := range stations {
			step(b.SetStation(t.Context(), call, s))
		}
	})
}

// nasty puts things into a book that a spreadsheet or a careless reader would
// change: texts that begin like formulas (the examples of OWASP, "CSV
// Injection"), zeros in front, quotes, semicolons, other scripts.
func nasty(t *testing.T, dir string) {
	t.Helper()
	bookIn(t, dir, func(b *trace.Book) {
		call := inventory.Call{Actor: "ada"}
		step := func(_ inventory.Receipt, err error) {
			t.Helper()
			if err != nil {
				t.Fatal(err)
			}
		}
		step(b.SetProducts(
			t.Context(), call,
			inventory.Product{ID: "=1+1", Name: `=cmd|' /C calc'!A0`, Category: inventory.OtherCategory, Maker: "@SUM(1+1)*cmd"},
			inventory.Product{ID: "00123", Name: `Said "so"; or, not`, Category: inventory.Saline, Packs: []inventory.Pack{
				{Level: "each", Holds: 1, Code: "hibc:A99912345"}, {Level: "case", Holds: 24, GTIN: "29506000199997"}, {Level: "case", Holds: 48, GTIN: "39506000199994"}, {Level: "inner", Holds: 6},
			}},
			inventory.Product{ID: "Ж", Name: "'quoted'", Category: inventory.AcidConcentrate, Facts: inventory.Facts{Potassium: 0, Calcium: 1250, IonsKnown: true, MixSystem: "36.83X", FillVolume: 5000}},
		))
		lot := func(n string) inventory.Received {
			return inventory.Received{Stock: inventory.Stock{Product: "00123", Lot: n, Expires: "2029-02-28", Quantity: 7}, To: "room", Supplier: "-2+3", Order: "+12"}
		}
		step(b.Receive(t.Context(), call, lot("0012"), lot("-1"), lot("+A9"), lot("'=x"), lot("1E5"), lot("2026-11-01"), lot("TRUE"), lot("a  b")))
		step(b.Receive(t.Context(), call, inventory.Received{Stock: inventory.Stock{GTIN: "39506000199994", Lot: "P", Packs: 2, Serial: "007"}, To: "room", Papers: inventory.Papers{Unit: "376104250021234569", Delivery: "=9"}}))
		step(b.Count(t.Context(), call, inventory.Counted{Location: "room", Cause: "=why", Lines: []inventory.CountLine{{Product: "00123", Lot: "-1", Counted: 0, Cause: "@gone"}}}))
	})
}

func exportAll(t *testing.T, dir, to, ext string) {
	t.Helper()
	for _, f := range intake.Forms() {
		lotbook(t, exitOK, "export", "--data", dir, f.Name, filepath.Join(to, f.Name+ext))
	}
}

// importAll takes all lists in. A prescription comes with its patient already.
func importAll(t *testing.T, dir, from, ext string) {
	t.Helper()
	for _, f := range intake.Forms() {
		lotbook(t, exitOK, "import", "--data", dir, f.Name, filepath.Join(from, f.Name+ext))
	}
}

func same(t *testing.T, a, b string) {
	t.Helper()
	for _, f := range intake.Forms() {
		x, err := os.ReadFile(filepath.Join(a, f.Name+".csv"))
		if err != nil {
			t.Fatal(err)
		}
		y, err := os.ReadFile(filepath.Join(b, f.Name+".csv"))
		if err != nil {
			t.Fatal(err)
		}
		if len(bytes.Split(x, []byte("\n"))) < 4 {
			t.Errorf("%s: nearly nothing in it: %s", f.Name, x)
		}
		if bytes.Equal(x, y) {
			continue
		}
		xs, ys := strings.Split(string(x), "\n"), strings.Split(string(y), "\n")
		for i := range min(len(xs), len(ys)) {
			if xs[i] != ys[i] {
				t.Errorf("%s, line %d:\n%s\n%s", f.Name, i+1, xs[i], ys[i])
				break
			}
		}
		if len(xs) != len(ys) {
			t.Errorf("%s: %d lines, then %d", f.Name, len(xs), len(ys))
		}
	}
}

// A unit's lists, exported and taken in by an empty unit, give the same lists:
// as CSV, as workbooks, and as workbooks that LibreOffice opened and saved.
func TestListsGoRound(t *testing.T) {
	dir := t.TempDir()
	first := filepath.Join(dir, "first")
	lotbook(t, exitOK, "demo", "--days", "8", "--stations", "6", "--data", first, "--no-serve")
	nasty(t, first)
	lists := map[string]string{}
	for _, ext := range []string{".csv", ".xlsx"} {
		lists[ext] = filepath.Join(dir, "lists"+ext)
		if err := os.Mkdir(lists[ext], 0o700); err != nil {
			t.Fatal(err)
		}
		exportAll(t, first, lists[ext], ext)
	}
	soffice, err := exec.LookPath("soffice")
	if err != nil {
		t.Fatal("LibreOffice is missing: apt-get install --no-install-recommends libreoffice-calc-nogui (make test does)")
	}
	saved := filepath.Join(dir, "saved")
	args := []string{"-env:UserInstallation=file://" + filepath.Join(dir, "profile"), "--headless", "--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", saved}
	for _, f := range intake.Forms() {
		args = append(args, filepath.Join(lists[".xlsx"], f.Name+".xlsx"))
	}
	if out, err := exec.Command(soffice, args...).CombinedOutput(); err != nil {
		t.Fatalf("soffice: %v\n%s", err, out)
	}
	for name, from := range map[string]struct{ dir, ext string }{"CSV": {lists[".csv"], ".csv"}, "workbook": {lists[".xlsx"], ".xlsx"}, "LibreOffice": {saved, ".xlsx"}} {
		t.Run(name, func(t *testing.T) {
			second, again := filepath.Join(dir, "second-"+name), filepath.Join(dir, "again-"+name)
			if err := os.Mkdir(again, 0o700); err != nil {
				t.Fatal(err)
			}
			emptyLike(t, second, first)
			importAll(t, second, from.dir, from.ext)
			exportAll(t, second, again, ".csv")
			same(t, lists[".csv"], again)
			if err := inventorytest.CheckBolt(second, registry().Project); err != nil {
				t.Error(err)
			}
		})
	}
	// No field of the CSV begins like a formula (OWASP).
	for _, f := range intake.Forms() {
		in, err := os.Open(filepath.Join(lists[".csv"], f.Name+".csv"))
		if err != nil {
			t.Fatal(err)
		}
		records, err := csv.NewReader(in).ReadAll()
		_ = in.Close()
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range records {
			for _, c := range r {
				if c != "" && strings.ContainsAny(c[:1], "=+-@\t\r") {
					t.Errorf("%s: %q", f.Name, c)
				}
			}
		}
	}
}

// Orders at the command line: open ones, late ones, and what is not ordered.
func TestOrdersCommand(t *testing.T) {
	data := filepath.Join(t.TempDir(), "unit")
	lotbook(t, exitOK, "demo", "--days", "3", "--stations", "6", "--data", data, "--no-serve")
	bookIn(t, data, func(b *trace.Book) {
		call := inventory.Call{Actor: "ada"}
		for _, o := range []inventory.Order{
			{ID: "PO-A", Supplier: "Invented Supplies", Expected: "2026-11-20", Lines: []inventory.OrderLine{{Product: "DLZ-18", Quantity: 48}}},
			{ID: "PO-B", Supplier: "Invented Supplies", Lines: []inventory.OrderLine{{Product: "DLZ-18", Quantity: 5}}},
		} {
			if _, err := b.PlaceOrder(t.Context(), call, o); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := b.Receive(t.Context(), call, inventory.Received{Stock: inventory.Stock{Product: "DLZ-18", Lot: "Z1", Quantity: 5}, To: "room", Order: "PO-B"}); err != nil {
			t.Fatal(err)
		}
	})
	out, _ := lotbook(t, exitOK, "orders", "--data", data, "--open")
	if !strings.Contains(out, `"number":"PO-A","supplier":"Invented Supplies","status":"open","late":true`) || strings.Contains(out, "PO-B") {
		t.Error(out)
	}
	out, _ = lotbook(t, exitOK, "orders", "--data", data)
	if !strings.Contains(out, `"number":"PO-B","supplier":"Invented Supplies","status":"complete","late":false`) || !strings.Contains(out, `"came":5,"refused":0,"closed":0,"open":0,"over":0`) {
		t.Error(out)
	}
}

// A template has a row that shows how, which is refused as it stands; with a row
// of one's own in its place it is taken.
func TestTemplates(t *testing.T) {
	dir := t.TempDir()
	data := filepath.Join(dir, "unit")
	lotbook(t, exitOK, "demo", "--days", "3", "--stations", "6", "--data", data, "--no-serve")
	for _, f := range intake.Forms() {
		for _, ext := range []string{".csv", ".xlsx"} {
			file := filepath.Join(dir, f.Name+ext)
			out, _ := lotbook(t, exitOK, "template", f.Name, file)
			if ext == ".csv" {
				for _, c := range f.Columns {
					if !strings.Contains(out, c.Name+": "+c.What) {
						t.Errorf("%s is not explained in %s", c.Name, out)
					}
				}
			}
			_, errs := lotbook(t, exitError, "import", "--data", data, f.Name, file)
			if !strings.Contains(errs, "line 2, column") || !strings.Contains(errs, "this is the example row of the template") {
				t.Errorf("%s: %s", file, errs)
			}
		}
	}
	// But for its marks, the example is data that could be taken.
	text, _ := lotbook(t, exitOK, "template", "receipts", "-")
	mine := strings.NewReplacer("EXAMPLE-", "MY-", "2027-03-31", "2026-11-20", "29506000100016", "", `"3"`, "").Replace(text)
	rows, err := csv.NewReader(strings.NewReader(mine)).ReadAll()
	if err != nil || len(rows) != 2 {
		t.Fatal(rows, err)
	}
	rows[1][slices.Index(rows[0], "product")] = "DLZ-18"
	rows[1][slices.Index(rows[0], "quantity")] = "3"
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	if err := w.WriteAll(rows); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "mine.csv")
	if err := os.WriteFile(file, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, _ := lotbook(t, exitOK, "import", "--data", data, "receipts", file); !strings.Contains(out, "1 of 1 rows") {
		t.Error(out)
	}
}

// An import that is cut off at any moment goes on when it is given again, and no
// row is taken twice. Here it is cut off when it says for the first time that it
// has come so far.
func TestImportCutOff(t *testing.T) {
	dir := t.TempDir()
	data := filepath.Join(dir, "unit")
	lotbook(t, exitOK, "demo", "--days", "3", "--stations", "6", "--data", data, "--no-serve")
	const rows = 25_000
	var b strings.Builder
	b.WriteString("product,lot,expires,quantity,to\n")
	for i := range rows {
		fmt.Fprintf(&b, "DLZ-18,CUT%d,2029-12-31,1,room\n", i%40)
	}
	file := filepath.Join(dir, "long.csv")
	if err := os.WriteFile(file, []byte(b.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	var errs cutter
	errs.at, errs.cut = "taken 10000 of", cancel
	e := &env{stdin: strings.NewReader(""), stdout: new(bytes.Buffer), stderr: &errs, now: scriptTime, getenv: func(string) string { return "" }}
	if code := run(ctx, e, []string{"import", "--data", data, "--progress", "receipts", file}); code != exitError {
		t.Fatalf("exit %d: %s", code, errs.String())
	}
	if !strings.Contains(errs.String(), "give the same command again, and it goes on from there") || !strings.Contains(errs.String(), "checked 20000 of 25000 rows") {
		t.Errorf("%s", errs.String())
	}
	out, _ := lotbook(t, exitOK, "import", "--data", data, "receipts", file)
	var taken, of, before int
	if _, err := fmt.Sscanf(out, "%d of %d rows of "+file+" taken; %d were taken before", &taken, &of, &before); err != nil || taken+before != rows || before < 9000 {
		t.Errorf("%q: %v", out, err)
	}
	bookIn(t, data, func(b *trace.Book) {
		var sum int64
		err := b.View(t.Context(), func(r inventory.Reader) error {
			for i := range 40 {
				bal, err := inventory.BalanceAt(r, "room", inventory.Lot{Product: "DLZ-18", Number: fmt.Sprint("CUT", i)})
				if err != nil {
					return err
				}
				sum += bal.Quantity
			}
			return nil
		})
		if err != nil || sum != rows {
			t.Errorf("%d pieces of %d rows, %v", sum, rows, err)
		}
	})
}

// A cutter calls cut when a text is written to it.
type cutter struct {
	bytes.Buffer
	at  string
	cut func()
}

func (c *cutter) Write(p []byte) (int, error) {
	if strings.Contains(string(p), c.at) {
		c.cut()
	}
	return c.Buffer.Write(p)
}
