package xlsx

import (
	"archive/zip"
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/klauspost/compress/flate"
	"github.com/xuri/excelize/v2"

	"lotbook/reports"
)

// noContext is for the child process, which has no test's context.
var noContext = context.Background()

const benchRows = 100_000

// BenchmarkAgainstBare writes 100,000 rows of 12 columns through this package
// and through excelize's stream writer alone, five times each, by turns, and
// reports the medians and their ratios. The bare writer gets the same values,
// dates as ready-made serial numbers with a style, and draws nothing else.
//
// Time is that of writing to a file, without the start of the process. Memory
// is the whole process's greatest resident set (ru_maxrss), each run in a
// process of its own. A second bare writer has the same fast compression as
// this package, which shows what that alone brings.
func BenchmarkAgainstBare(b *testing.B) {
	const runs = 5
	jobs := []string{"bare", "bare-fast", "table"}
	seconds, peak := make(map[string][]float64), make(map[string][]float64)
	for b.Loop() {
		for range runs {
			for _, job := range jobs {
				s, mb := runChild(b, job)
				seconds[job], peak[job] = append(seconds[job], s), append(peak[job], mb)
			}
		}
	}
	for _, job := range jobs {
		b.ReportMetric(median(seconds[job]), job+"-s")
		b.ReportMetric(median(peak[job]), job+"-peak-MB")
	}
	for _, job := range jobs[:2] {
		b.ReportMetric(median(seconds["table"])/median(seconds[job]), "time/"+job)
		b.ReportMetric(median(peak["table"])/median(peak[job]), "peak/"+job)
	}
	b.ReportMetric(0, "ns/op")
}

func median(v []float64) float64 {
	v = slices.Sorted(slices.Values(v))
	return v[len(v)/2]
}

func runChild(b *testing.B, job string) (seconds, peakMB float64) {
	b.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), childEnv+"="+job+"="+b.TempDir())
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		b.Fatalf("%s: %v", job, err)
	}
	seconds, err = strconv.ParseFloat(strings.TrimSpace(string(out)), 64)
	if err != nil {
		b.Fatalf("%s: %v", job, err)
	}
	usage, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage)
	if !ok {
		b.Fatal("this system tells no resident set")
	}
	return seconds, float64(usage.Maxrss) / 1024 // Linux counts KiB
}

// measured is the child process: it prints the seconds that a job took.
func measured(job, dir string) int {
	run, ok := map[string]func(dir string, out io.Writer) error{
		"table":     writeTable,
		"bare":      func(dir string, out io.Writer) error { return writeBare(dir, out, false) },
		"bare-fast": func(dir string, out io.Writer) error { return writeBare(dir, out, true) },
	}[job]
	if !ok {
		fmt.Fprintf(os.Stderr, "no job %q\n", job)
		return 2
	}
	start := time.Now()
	err := func() error {
		f, err := os.Create(filepath.Join(dir, "book.xlsx"))
		if err != nil {
			return err
		}
		w := bufio.NewWriter(f)
		if err := run(dir, w); err != nil {
			return err
		}
		if err := w.Flush(); err != nil {
			return err
		}
		return f.Close()
	}()
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	fmt.Println(time.Since(start).Seconds())
	return 0
}

// A benchRow is an invented line of an answer: 7 texts, 2 numbers, a date and
// 2 instants.
type benchRow struct {
	patient, treatment, station, lot, gtin, how, remark string
	packs, litres                                       int64
	expires                                             int64 // days since 1970
	from, until                                         int64 // seconds since 1970
}

func benchRowOf(i int64) benchRow {
	r := benchRow{
		patient: fmt.Sprintf("P-%06d", i%900), treatment: fmt.Sprintf("T-%08d", i), station: fmt.Sprintf("S%02d", i%18+1),
		lot: fmt.Sprintf("24A%05d", i%400), gtin: "09501101530003", how: "scanned",
		packs: 1 + i%3, litres: 120_000 + i%60_000, expires: 20_900 + i%400, from: longStart + 60*i, until: longStart + 60*i + 14_400,
	}
	if i%11 == 0 {
		r.remark = "replaced: the first one leaked at the venous header"
	}
	return r
}

func writeTable(dir string, out io.Writer) error {
	texts := []string{"Patient", "Treatment", "Station", "Lot", "GTIN", "How known", "Remark"}
	t := &reports.Table{}
	for _, h := range texts {
		t.Columns = append(t.Columns, reports.Column{Header: h, Kind: reports.KindText})
	}
	t.Columns = append(t.Columns,
		reports.Column{Header: "Packs", Kind: reports.KindInteger}, reports.Column{Header: "Dialysate (L)", Kind: reports.KindDecimal, Places: 1},
		reports.Column{Header: "Expires", Kind: reports.KindDate}, reports.Column{Header: "From", Kind: reports.KindInstant}, reports.Column{Header: "Until", Kind: reports.KindInstant})
	t.Rows = func(yield func([]reports.Cell, error) bool) {
		row := make([]reports.Cell, len(t.Columns))
		for i := range int64(benchRows) {
			r := benchRowOf(i)
			row[0], row[1], row[2] = reports.Text(r.patient), reports.Text(r.treatment), reports.Text(r.station)
			row[3], row[4], row[5], row[6] = reports.Text(r.lot), reports.Text(r.gtin), reports.Text(r.how), reports.Text(r.remark)
			row[7], row[8] = reports.Integer(r.packs), reports.Decimal(r.litres, 3)
			row[9] = reports.Date(1970, 1, 1+int(r.expires))
			row[10], row[11] = reports.Instant(time.Unix(r.from, 0)), reports.Instant(time.Unix(r.until, 0))
			if !yield(row, nil) {
				return
			}
		}
	}
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		return err
	}
	wb := &reports.Workbook{
		Title: "Benchmark", AskedBy: "A", AskedAt: time.Unix(longStart, 0), Zone: zone, Caution: "Invented rows.",
		Sheets: []reports.Sheet{{Name: "Uses", Table: t}},
	}
	return Write(noContext, out, wb, Options{TempDir: filepath.Join(dir, "tmp")})
}

func writeBare(dir string, out io.Writer, fast bool) error {
	f := excelize.NewFile(excelize.Options{TmpDir: dir})
	if fast {
		f.SetZipWriter(func(w io.Writer) excelize.ZipWriter {
			zw := zip.NewWriter(w)
			zw.RegisterCompressor(zip.Deflate, func(w io.Writer) (io.WriteCloser, error) { return flate.NewWriter(w, flate.BestSpeed) })
			return zw
		})
	}
	number, date := "#,##0.0", "yyyy-mm-dd hh:mm"
	litres, err := f.NewStyle(&excelize.Style{CustomNumFmt: &number})
	if err != nil {
		return err
	}
	day, err := f.NewStyle(&excelize.Style{CustomNumFmt: &date})
	if err != nil {
		return err
	}
	sw, err := f.NewStreamWriter("Sheet1")
	if err != nil {
		return err
	}
	row := make([]any, 12)
	for i := range int64(benchRows) {
		r := benchRowOf(i)
		row[0], row[1], row[2], row[3], row[4], row[5], row[6] = r.patient, r.treatment, r.station, r.lot, r.gtin, r.how, nil
		if r.remark != "" {
			row[6] = r.remark
		}
		row[7], row[8] = r.packs, excelize.Cell{StyleID: litres, Value: float64(r.litres) / 1e3}
		row[9] = excelize.Cell{StyleID: day, Value: r.expires + serial1970}
		row[10] = excelize.Cell{StyleID: day, Value: float64(r.from)/secondsPerDay + serial1970}
		row[11] = excelize.Cell{StyleID: day, Value: float64(r.until)/secondsPerDay + serial1970}
		if err := sw.SetRow("A"+strconv.FormatInt(i+1, 10), row); err != nil {
			return err
		}
	}
	if err := sw.Flush(); err != nil {
		return err
	}
	if err := f.Write(out); err != nil {
		return err
	}
	return f.Close()
}

// BenchmarkWrite is the same workbook inside this process, for profiles.
func BenchmarkWrite(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if err := writeTable(b.TempDir(), io.Discard); err != nil {
			b.Fatal(err)
		}
	}
}
