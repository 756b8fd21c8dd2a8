package main

import (
	"bytes"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// layers are the folders in the order in which they may know each other: one
// may import itself and those before it.
var layers = []string{"scanner", "inventory", "trace", "reports", "api", "cmd"}

// apart lists what else holds, each with its reason.
var apart = []struct {
	importPath string
	allowed    []string // packages that may import it, with all below them
	why        string
}{
	{"go.etcd.io/bbolt", []string{"lotbook/inventory/boltstore"}, "nothing outside the store may know bbolt: another store stands beside it"},
	{"github.com/gin-gonic/gin", []string{"lotbook/api"}, "*gin.Context never leaves api"},
	{"github.com/xuri/excelize/v2", []string{"lotbook/reports/xlsx", "lotbook/trace/intake"}, "a Table is drawn in one place, lists are read in one"},
	{"github.com/makiuchi-d/gozxing", []string{"lotbook/scanner/picture"}, "the reader of pictures is behind its own types"},
	{"lotbook/inventory/boltstore", []string{"lotbook/cmd", "lotbook/inventory/inventorytest"}, "only cmd opens a store, but for the suite that tests it"},
	{"net/http", []string{"lotbook/api", "lotbook/cmd"}, "the domain knows no HTTP"},
	{"testing", []string{"lotbook/inventory/inventorytest"}, "test helpers stay out of the program"},
	{"math/rand/v2", []string{"lotbook/trace/demo", "lotbook/inventory/inventorytest", "lotbook/scanner/picture/internal/camera", "lotbook/scanner/picture/report", "lotbook/trace/control"}, "only invented data and test pictures are made by chance, and the orders that a permutation test tries, from a fixed seed"},
}

type pkg struct {
	path    string
	imports []string
}

func TestLayers(t *testing.T) {
	out, err := exec.Command("go", "list", "-f", "{{.ImportPath}} {{join .Imports \" \"}}", "lotbook/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	var pkgs []pkg
	for line := range bytes.Lines(out) {
		f := strings.Fields(string(line))
		pkgs = append(pkgs, pkg{f[0], f[1:]})
	}
	if len(pkgs) < 10 {
		t.Fatalf("go list names %d packages", len(pkgs))
	}
	for _, p := range pkgs {
		from := layer(p.path)
		if from < 0 {
			t.Errorf("%s lies in none of %v", p.path, layers)
			continue
		}
		for _, imp := range p.imports {
			if to := layer(imp); to > from {
				t.Errorf("%s imports %s: imports point left only, %s", p.path, imp, strings.Join(layers, " <- "))
			}
			for _, a := range apart {
				if under(imp, a.importPath) && !slices.ContainsFunc(a.allowed, func(ok string) bool { return under(p.path, ok) }) && !under(p.path, a.importPath) {
					t.Errorf("%s imports %s: %s", p.path, imp, a.why)
				}
			}
		}
	}
	for _, p := range pkgs {
		if p.path == "lotbook/inventory/journal" {
			for _, imp := range p.imports {
				if strings.Contains(strings.Split(imp, "/")[0], ".") || strings.HasPrefix(imp, "lotbook") {
					t.Errorf("the journal's form imports %s: standard library only, so that it can be checked anywhere", imp)
				}
			}
		}
	}
}

// layer returns the place of a package of the project, -1 for one of none and
// for those of others.
func layer(path string) int {
	rest, ok := strings.CutPrefix(path, "lotbook/")
	if !ok {
		return -1
	}
	top, _, _ := strings.Cut(rest, "/")
	return slices.Index(layers, top)
}

func under(path, root string) bool { return path == root || strings.HasPrefix(path, root+"/") }
