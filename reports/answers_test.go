package reports_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/inventory/inventorytest"
	"lotbook/reports"
	"lotbook/reports/xlsx"
	"lotbook/trace"
	"lotbook/trace/demo"
	"lotbook/trace/notice"
)

// inventedUnit makes two weeks of the invented unit, and the truth about them.
func inventedUnit(t *testing.T) (*trace.Book, *demo.Truth) {
	t.Helper()
	return inventedUnitMissing(t, 0.1)
}

// inventedUnitMissing is one in which a share of the scans is left out.
func inventedUnitMissing(t *testing.T, miss float64) (*trace.Book, *demo.Truth) {
	t.Helper()
	o := demo.Defaults(time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC))
	o.Days, o.Stations, o.Miss = 14, 6, miss
	c := demo.NewClock(o)
	book := trace.NewBook(inventory.NewBook(inventorytest.NewMemory(c.Now), inventory.NewRegistry(inventory.Events(), trace.Events(), notice.Events(), account.Events()), c.Now))
	truth, err := demo.Make(context.Background(), book, c, o)
	if err != nil {
		t.Fatal(err)
	}
	return book, truth
}

// The workbook of "who received a lot", opened by LibreOffice, lists the
// treatments that the answer counts; the confirmed ones are those that the
// truth says were scanned with it.
func TestExposuresWorkbookInLibreOffice(t *testing.T) {
	soffice, err := exec.LookPath("soffice")
	if err != nil {
		t.Fatal("LibreOffice is missing: apt-get install --no-install-recommends libreoffice-calc-nogui (make test does)")
	}
	book, truth := inventedUnit(t)
	lot := truth.Notice.Lots[0]
	a, err := book.Exposures(context.Background(), trace.Question{Product: truth.Notice.GTIN, Lot: lot})
	if err != nil {
		t.Fatal(err)
	}
	asked := reports.Asked{By: "Ivorne Exempla", At: time.Date(2026, 11, 25, 10, 0, 0, 0, time.UTC), Unit: "Invented unit", Zone: time.UTC}
	wb := reports.Exposures(context.Background(), book, a, asked)
	dir := t.TempDir()
	var file bytes.Buffer
	if err := xlsx.Write(context.Background(), &file, wb, xlsx.Options{TempDir: filepath.Join(dir, "tmp")}); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "lot.xlsx"), file.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	// Filter 44,34,76: comma, quote, UTF-8; -1: every sheet in a file of its own.
	cmd := exec.Command(soffice, "-env:UserInstallation=file://"+filepath.Join(dir, "profile"), "--headless",
		"--convert-to", `csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1`, "--outdir", dir, filepath.Join(dir, "lot.xlsx"))
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("soffice: %v\n%s", err, out)
	}
	rows := sheet(t, dir, "Exposures")
	head := rows[0]
	col := func(name string) int {
		i := slices.Index(head, name)
		if i < 0 {
			t.Fatalf("no column %q in %q", name, head)
		}
		return i
	}
	byGrade := map[string]map[string]bool{}
	for _, r := range rows[1:] {
		g := r[col("Grade")]
		if byGrade[g] == nil {
			byGrade[g] = map[string]bool{}
		}
		byGrade[g][r[col("Treatment")]] = true
	}
	for _, c := range a.Counts {
		if got := len(byGrade[string(c.Grade)]); got != c.Treatments {
			t.Errorf("%s: the sheet lists %d treatments, the answer counts %d", c.Grade, got, c.Treatments)
		}
	}
	holdBeside(t, dir, a, byGrade, truth)
	scanned := map[string]bool{}
	for _, tr := range truth.Treatments {
		for _, uses := range tr.Used {
			for _, u := range uses {
				if u.Product == truth.Notice.Product && u.Lot == lot && u.Entry != 0 {
					scanned[string(tr.ID)] = true
				}
			}
		}
	}
	if len(scanned) == 0 {
		t.Fatal("the truth has no use of the notice's lot")
	}
	for id := range byGrade["confirmed"] {
		if !scanned[id] {
			t.Errorf("treatment %s is listed as confirmed and did not use the lot", id)
		}
	}
	for id := range scanned {
		if !byGrade["confirmed"][id] {
			t.Errorf("treatment %s was scanned with the lot and is not confirmed", id)
		}
	}
	summary := strings.Join(slices.Concat(sheet(t, dir, "Summary")...), "\n")
	for _, want := range []string{"Ivorne Exempla", lot, a.AsOf.Hash.String(), "Every piece accounted for", "local codes or licensed practice"} {
		if !strings.Contains(summary, want) {
			t.Errorf("the summary does not say %q", want)
		}
	}
}

// holdBeside holds what stands beside the exposures: nobody is both listed and
// left out, the weeks of the record and the stations add up to what the answer
// says.
func holdBeside(t *testing.T, dir string, a *trace.LotAnswer, byGrade map[string]map[string]bool, truth *demo.Truth) {
	t.Helper()
	total := func(name string, col int) (n int64) {
		for _, r := range sheet(t, dir, name)[1:] {
			v, err := strconv.ParseInt(r[col], 10, 64)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			n += v
		}
		return n
	}
	left := sheet(t, dir, "Left out")[1:]
	for _, r := range left {
		for g, listed := range byGrade {
			if listed[r[1]] {
				t.Errorf("treatment %s is %s, and left out: %s", r[1], g, r[6])
			}
		}
	}
	if len(left) < 20 || len(left) > len(truth.Treatments) {
		t.Errorf("%d of %d treatments are left out", len(left), len(truth.Treatments))
	}
	x := &a.Completeness[0].Total
	if x.Treatments() < 20 || total("Record", 2) != x.Treatments() || total("Record", 8) != x.Without {
		t.Errorf("the sheet Record has %d treatments, %d without a record; the answer %+v", total("Record", 2), total("Record", 8), *x)
	}
	if total("Stations", 2) != total("Machines", 2) {
		t.Errorf("%d treatments by station, %d by machine", total("Stations", 2), total("Machines", 2))
	}
}

func sheet(t *testing.T, dir, name string) [][]string {
	t.Helper()
	f, err := os.Open(filepath.Join(dir, "lot-"+name+".csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.FieldsPerRecord = -1
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// Each line's figures add up as the sheet says, and "not counted" is a word.
func TestReconciliationWorkbook(t *testing.T) {
	book, _ := inventedUnit(t)
	rec, err := book.Reconcile(context.Background(), inventory.Shift{Date: "2026-11-23", Number: 2})
	if err != nil {
		t.Fatal(err)
	}
	wb := reports.Reconciliation(rec, reports.Asked{By: "x", At: rec.At, Unit: "u"})
	table := wb.Sheets[1].Table
	col := func(name string) int {
		return slices.IndexFunc(table.Columns, func(c reports.Column) bool { return c.Header == name })
	}
	n, uncounted := 0, 0
	for row, err := range table.Rows {
		if err != nil {
			t.Fatal(err)
		}
		n++
		counted := row[col("Counted")]
		if counted.Kind() == reports.KindMark {
			uncounted++
			if counted.Text() != "not counted" {
				t.Errorf("the mark is %q", counted.Text())
			}
			continue
		}
		if got := row[col("Opening")].Int() + row[col("In")].Int() - row[col("Out")].Int() - row[col("Closing count")].Int(); got != counted.Int() {
			t.Errorf("row %d: opening + in − out − closing is %d, counted is %d", n, got, counted.Int())
		}
		if got := row[col("Used")].Int() + row[col("Wasted")].Int(); got != row[col("Recorded")].Int() {
			t.Errorf("row %d: used + wasted is %d, recorded is %d", n, got, row[col("Recorded")].Int())
		}
	}
	if n != len(rec.Lines) || n == 0 || uncounted == n {
		t.Errorf("%d rows of %d lines, %d not counted", n, len(rec.Lines), uncounted)
	}
}
