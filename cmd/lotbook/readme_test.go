package main

import (
	"bufio"
	"context"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestREADME runs the README's commands as they stand, in an empty folder: the
// demo is served, then each block after a line "<!-- tested -->" is run by one
// shell each.
func TestREADME(t *testing.T) {
	root, err := filepath.Abs("../..")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	sh := func(name string, args ...string) *exec.Cmd {
		c := exec.Command(name, args...)
		c.Dir = dir
		return c
	}
	if out, err := exec.Command("go", "build", "-o", filepath.Join(dir, "bin", "lotbook"), ".").CombinedOutput(); err != nil {
		t.Fatalf("build: %v\n%s", err, out)
	}
	if err := os.Symlink(filepath.Join(root, "cmd"), filepath.Join(dir, "cmd")); err != nil {
		t.Fatal(err)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	addr := l.Addr().String()
	_ = l.Close()
	ctx, stop := context.WithTimeout(context.Background(), 5*time.Minute)
	defer stop()
	demo := exec.CommandContext(ctx, "bin/lotbook", "demo", "--data", "demo-data", "--listen", addr)
	demo.Dir = dir
	out, err := demo.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	demo.Stderr = os.Stderr
	if err := demo.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = demo.Process.Kill(); _ = demo.Wait() })
	lines := bufio.NewScanner(out)
	for served := false; !served; {
		if !lines.Scan() {
			t.Fatal("the demo ended before it served")
		}
		served = strings.Contains(lines.Text(), "serves")
	}
	go func() {
		for lines.Scan() {
		}
	}()

	text, err := os.ReadFile(filepath.Join(root, "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	blocks := strings.Split(string(text), "<!-- tested -->\n```sh\n")[1:]
	if len(blocks) < 3 {
		t.Fatalf("the README has %d tested blocks", len(blocks))
	}
	var said strings.Builder
	for i, b := range blocks {
		script, _, ok := strings.Cut(b, "\n```")
		if !ok {
			t.Fatalf("block %d has no end", i+1)
		}
		script = strings.ReplaceAll(script, "127.0.0.1:8417", addr)
		out, err := sh("bash", "-euo", "pipefail", "-c", script).CombinedOutput()
		if err != nil {
			t.Fatalf("block %d: %v\n%s", i+1, err, out)
		}
		said.Write(out)
	}
	for _, want := range []string{
		`"outcome":"used"`, `"lot":"D18-13639"`, `"lot":"01B2346"`, `"lot":"2614186A"`, `"how":"photo"`,
		`"grade":"confirmed"`, `"symbology":"]d2"`, `"gtin":"09506000117843"`, `"counted_less_recorded"`, `"left_at_expiry"`, "right: ",
	} {
		if !strings.Contains(said.String(), want) {
			t.Errorf("the README's commands do not print %s", want)
		}
	}
	for _, name := range []string{"who-received.xlsx", "lot.xlsx", "order.xlsx"} {
		f, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil || !strings.HasPrefix(string(f), "PK") {
			t.Errorf("%s: %v, %d bytes", name, err, len(f))
		}
	}
	if t.Failed() {
		fmt.Println(said.String())
	}
}
