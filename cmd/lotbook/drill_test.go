package main

import (
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// A drill is begun, ended with what was found, and stands in the list.
func TestDrillByCommand(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "unit")
	lotbook(t, exitOK, "demo", "--days", "3", "--stations", "3", "--shifts", "1", "--data", dir, "--no-serve")
	begun, _ := lotbook(t, exitOK, "drill", "begin", "--data", dir)
	id := regexp.MustCompile(`D\d+`).FindString(begun)
	ended, _ := lotbook(t, exitOK, "drill", "end", "--data", dir, "--drill", id, "--searched", "--held-up", "the cupboard was locked")
	for _, want := range []string{id, "from the beginning to the end", "accounted for by the record", "by what was found", "confirmed: treatments", "held up: the cupboard was locked"} {
		if !strings.Contains(ended, want) {
			t.Errorf("the end does not say %q:\n%s", want, ended)
		}
	}
	if list, _ := lotbook(t, exitOK, "drill", "list", "--data", dir); list != ended {
		t.Errorf("listed:\n%s\nended:\n%s", list, ended)
	}
	lotbook(t, exitError, "drill", "end", "--data", dir, "--drill", id)
}
