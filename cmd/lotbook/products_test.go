package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"lotbook/inventory"
	"lotbook/trace"
)

// gtinOf makes a GTIN-14 with its check digit (weights 3 and 1 from the right,
// GS1 General Specifications 7.9.1).
func gtinOf(n int) string {
	s, sum := fmt.Sprintf("0950600%06d", n), 0
	for i, c := range s {
		sum += int(c-'0') * (3 - 2*(i%2))
	}
	return s + fmt.Sprint((10-sum%10)%10)
}

func productFile(t *testing.T, name string, rows int, gtin func(i int) int) string {
	t.Helper()
	var b strings.Builder
	b.WriteString("id,name,category,each_gtin\n")
	for i := range rows {
		fmt.Fprintf(&b, "P%d,Product %d,other,%s\n", i, i, gtinOf(gtin(i)))
	}
	file := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(file, []byte(b.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

// A list of products of any length is taken in parts, goes on where it was cut
// off, and may give the numbers of products in one part to those of another. Two
// products with one number are refused wherever in the list they stand. A kit
// keeps its components.
func TestLongProductList(t *testing.T) {
	const rows = 21_000
	same := func(i int) int { return i }
	data := filepath.Join(t.TempDir(), "unit")
	lotbook(t, exitOK, "demo", "--days", "1", "--stations", "3", "--data", data, "--no-serve")
	file := productFile(t, "long.csv", rows, same)
	ctx, cancel := context.WithCancel(t.Context())
	var errs cutter
	errs.at, errs.cut = "taken 10000 of", cancel
	e := &env{stdin: strings.NewReader(""), stdout: new(strings.Builder), stderr: &errs, now: scriptTime, getenv: func(string) string { return "" }}
	if code := run(ctx, e, []string{"import", "--data", data, "--progress", "products", file}); code != exitError {
		t.Fatalf("exit %d: %s", code, errs.String())
	}
	out, _ := lotbook(t, exitOK, "import", "--data", data, "products", file)
	var taken, of, before int
	if _, err := fmt.Sscanf(out, "%d of %d rows of "+file+" taken; %d were taken before", &taken, &of, &before); err != nil || taken+before != rows || before < 9000 {
		t.Errorf("%q: %v", out, err)
	}
	bookIn(t, data, func(b *trace.Book) {
		_, err := b.SetProducts(t.Context(), inventory.Call{Actor: "ada"}, inventory.Product{ID: "P7", Name: "Kit", Category: inventory.OtherCategory, Components: []inventory.Component{{Product: "P8", Pieces: 2}}})
		if err != nil {
			t.Fatal(err)
		}
	})

	const last = 1_400
	swapped := productFile(t, "swapped.csv", last+1, func(i int) int {
		switch i {
		case 0:
			return last
		case last:
			return 0
		}
		return i
	})
	lotbook(t, exitOK, "import", "--data", data, "products", swapped)
	twice := productFile(t, "twice.csv", last+1, func(i int) int { return i % last })
	if _, errs := lotbook(t, exitError, "import", "--data", data, "products", twice); !strings.Contains(errs, "line 1402: "+gtinOf(0)+" belongs to product P0 already") {
		t.Errorf("two products with one number: %s", errs)
	}
	theirs := productFile(t, "theirs.csv", 1, func(int) int { return rows - 1 })
	if _, errs := lotbook(t, exitError, "import", "--data", data, "products", theirs); !strings.Contains(errs, "belongs to product P20999 already") {
		t.Errorf("the number of a product that is not in the list: %s", errs)
	}
	bookIn(t, data, func(b *trace.Book) {
		err := b.View(t.Context(), func(r inventory.Reader) error {
			for gtin, want := range map[int]inventory.ProductID{0: "P1400", last: "P0", 1: "P1", rows - 1: "P20999"} {
				p, _, err := b.ProductByGTIN(r, gtinOf(gtin))
				if err != nil || p == nil || p.ID != want {
					t.Errorf("%s is of %v, want %s (%v)", gtinOf(gtin), p, want, err)
				}
			}
			p, err := b.Product(r, "P7")
			if err == nil && (!p.Kit() || p.Name != "Product 7") {
				t.Errorf("the kit is %+v", p)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	})
	verified(t, data)
}
