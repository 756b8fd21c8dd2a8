// Command gen writes package gs1's table_gen.go from testdata/ai-table.tsv.
// It is run by go generate in the folder of package gs1.
package main

import (
	"fmt"
	"os"

	"lotbook/scanner/gs1/internal/aitable"
)

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "gen:", err)
		os.Exit(1)
	}
}

func run() error {
	f, err := os.Open("testdata/ai-table.tsv")
	if err != nil {
		return err
	}
	defer f.Close()
	src, err := aitable.Generate(f)
	if err != nil {
		return err
	}
	return os.WriteFile("table_gen.go", src, 0o644)
}
