package xlsx

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"lotbook/reports"
)

// childEnv makes the test binary write a workbook and nothing else: "crash"
// into a folder, to be killed there, or what the benchmark measures.
const childEnv = "LOTBOOK_XLSX_CHILD"

func TestMain(m *testing.M) {
	job, arg, _ := strings.Cut(os.Getenv(childEnv), "=")
	switch job {
	case "":
		os.Exit(m.Run())
	case "crash":
		err := Write(noContext, &bytes.Buffer{}, oneTable(spillRows(func(int) {
			time.Sleep(time.Hour) // killed meanwhile
		}), spillColumn), Options{TempDir: arg})
		os.Stderr.WriteString("not killed: " + strconv.Quote(errText(err)) + "\n")
		os.Exit(3)
	default:
		os.Exit(measured(job, arg))
	}
}

func errText(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}

var spillColumn = reports.Column{Header: "Text", Kind: reports.KindText}

// secret stands for a patient's name.
const secret = "PATIENT-0001"

// spillRows are rows that go far past the 16 MB from which the stream writer
// uses a file, then call last.
func spillRows(last func(n int)) reports.Rows {
	return func(yield func([]reports.Cell, error) bool) {
		row := []reports.Cell{reports.Text(strings.Repeat(secret+" ", 1000))}
		for range 2000 { // 26 MB
			if !yield(row, nil) {
				return
			}
		}
		last(2000)
	}
}

// filesWith returns the files below dir that hold the secret.
func filesWith(t *testing.T, dir string) (files []string) {
	t.Helper()
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		if bytes.Contains(data, []byte(secret)) {
			files = append(files, path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

// TestTempFiles looks while a long sheet is under way: what the stream writer
// put on disk is in the folder given and nowhere else, for the owner only, and
// gone afterwards.
func TestTempFiles(t *testing.T) {
	elsewhere, dir := t.TempDir(), filepath.Join(t.TempDir(), "data", "tmp")
	t.Setenv("TMPDIR", elsewhere) // what os.TempDir goes by
	seen := 0
	wb := oneTable(spillRows(func(int) {
		for _, f := range filesWith(t, dir) {
			seen++
			for p := f; p != filepath.Dir(dir); p = filepath.Dir(p) {
				info, err := os.Stat(p)
				if err != nil {
					t.Error(err)
				} else if info.Mode().Perm()&0o077 != 0 {
					t.Errorf("%s is open to others: %v", p, info.Mode())
				}
			}
		}
	}), spillColumn)
	if err := Write(t.Context(), &bytes.Buffer{}, wb, Options{TempDir: dir}); err != nil {
		t.Fatal(err)
	}
	if seen == 0 {
		t.Error("no temporary file was in use: this test shows nothing")
	}
	wantEmpty(t, dir)
	wantEmpty(t, elsewhere)
}

// TestTempFilesAfterError: the same when the rows end in an error.
func TestTempFilesAfterError(t *testing.T) {
	boom := errors.New("boom")
	dir := t.TempDir()
	wb := oneTable(func(yield func([]reports.Cell, error) bool) {
		for row := range spillRows(func(int) {}) {
			if !yield(row, nil) {
				return
			}
		}
		if len(filesWith(t, dir)) == 0 {
			t.Error("no temporary file was in use: this test shows nothing")
		}
		yield(nil, boom)
	}, spillColumn)
	if err := Write(t.Context(), &bytes.Buffer{}, wb, Options{TempDir: dir}); !errors.Is(err, boom) {
		t.Errorf("got %v", err)
	}
	wantEmpty(t, dir)
}

// TestSweep kills a process in the middle of a workbook and removes what it
// left, but nothing else.
func TestSweep(t *testing.T) {
	dir := t.TempDir()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), childEnv+"=crash="+dir)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	for deadline := time.Now().Add(time.Minute); len(filesWith(t, dir)) == 0; time.Sleep(20 * time.Millisecond) {
		if time.Now().After(deadline) {
			_ = cmd.Process.Kill()
			_ = cmd.Wait()
			t.Fatalf("no temporary file came: %s", stderr.String())
		}
	}
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = cmd.Wait() // "signal: killed"
	if len(filesWith(t, dir)) == 0 {
		t.Fatal("the killed process left nothing: this test shows nothing")
	}
	other := filepath.Join(dir, "workbook-that-is-a-file")
	for _, name := range []string{other, filepath.Join(dir, "x")} {
		if err := os.WriteFile(name, []byte("x"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if n, err := Sweep(dir); n != 1 || err != nil {
		t.Errorf("swept %d, %v", n, err)
	}
	left, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil || len(left) != 2 {
		t.Errorf("left are %v, %v; want the two files that are not ours", left, err)
	}
	if n, err := Sweep(dir); n != 0 || err != nil {
		t.Errorf("swept again %d, %v", n, err)
	}
	if n, err := Sweep(filepath.Join(dir, "none")); n != 0 || err != nil {
		t.Errorf("a folder that is not there: %d, %v", n, err)
	}
	if _, err := Sweep(other); !errors.Is(err, ErrLeftOver) {
		t.Errorf("a file in place of the folder: %v", err)
	}
}
