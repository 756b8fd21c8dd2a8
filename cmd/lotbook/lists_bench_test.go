package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// BenchmarkImport takes in lists of receipts of two lengths, as CSV and as a
// workbook. heap-MB is the most that was live when progress was told: it must
// not grow with the list, but for a workbook's shared texts.
func BenchmarkImport(b *testing.B) {
	for _, rows := range []int{10_000, 100_000} {
		for _, ext := range []string{".csv", ".xlsx"} {
			b.Run(fmt.Sprint(rows, ext), func(b *testing.B) { importOf(b, rows, ext) })
		}
	}
}

func importOf(b *testing.B, rows int, ext string) {
	dir := b.TempDir()
	quiet := func(args ...string) {
		b.Helper()
		if code, out := benchRun(new(bytes.Buffer), args...); code != exitOK {
			b.Fatalf("lotbook %s: %s", strings.Join(args, " "), out)
		}
	}
	file := filepath.Join(dir, "list.csv")
	var text strings.Builder
	text.WriteString("product,lot,expires,quantity,to,supplier,order\n")
	for i := range rows {
		fmt.Fprintf(&text, "DLZ-18,BIG%d,2029-12-31,%d,room,Invented Supplies,PO-%d\n", i%2000, 1+i%7, i/50)
	}
	if err := os.WriteFile(file, []byte(text.String()), 0o600); err != nil {
		b.Fatal(err)
	}
	text.Reset()
	if ext == ".xlsx" {
		made := filepath.Join(dir, "made")
		quiet("demo", "--days", "1", "--stations", "6", "--data", made, "--no-serve")
		quiet("import", "--data", made, "receipts", file)
		file = filepath.Join(dir, "list.xlsx")
		quiet("export", "--data", made, "receipts", file)
	}
	var most uint64
	n := 0
	for b.Loop() {
		b.StopTimer()
		n++
		data := filepath.Join(dir, fmt.Sprint("unit", n))
		quiet("demo", "--days", "1", "--stations", "6", "--data", data, "--no-serve")
		heap := heapWatch{most: &most}
		b.StartTimer()
		if code, out := benchRun(&heap, "import", "--data", data, "--again", "--progress", "receipts", file); code != exitOK {
			b.Fatal(out)
		}
	}
	b.ReportMetric(float64(rows*n)/b.Elapsed().Seconds(), "rows/s")
	b.ReportMetric(float64(most)/(1<<20), "heap-MB")
}

func benchRun(stderr interface {
	Write([]byte) (int, error)
}, args ...string,
) (int, string) {
	var out bytes.Buffer
	code := run(context.Background(), &env{stdin: strings.NewReader(""), stdout: &out, stderr: stderr, now: scriptTime, getenv: func(string) string { return "" }}, args)
	return code, out.String()
}

// A heapWatch looks at what is live each time that something is said.
type heapWatch struct{ most *uint64 }

func (h *heapWatch) Write(p []byte) (int, error) {
	if bytes.Contains(p, []byte(" rows")) {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		*h.most = max(*h.most, m.HeapAlloc)
	}
	return len(p), nil
}
