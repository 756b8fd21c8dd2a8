package xlsx

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"testing"
)

var update = flag.Bool("update", false, "write the golden files anew")

// TestGolden compares cells and page set-up, not bytes.
func TestGolden(t *testing.T) {
	book := readWorkbook(t, file(t, sample(t)))
	got := book.dump()
	name := filepath.Join("testdata", "sample.golden")
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
		t.Errorf("cells differ from %s (go test -update writes it anew):\n%s", name, got)
	}
}

// TestSameBytes holds Write to its promise that a workbook has one form, with
// several sheets that excelize keeps in a map.
func TestSameBytes(t *testing.T) {
	first := file(t, sample(t))
	for range 10 {
		if !bytes.Equal(first, file(t, sample(t))) {
			t.Fatal("the same workbook gave other bytes")
		}
	}
}
