package boltstore_test

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
	"lotbook/inventory/journal"
)

// What the tests take for this program's rows, and for an older one's.
var (
	newRows = inventory.Derivation{Form: 2, Project: inventorytest.Project}
	oldRows = inventory.Derivation{Form: 1, Project: inventorytest.Project}
)

func openRows(dir string, rows inventory.Derivation, readOnly bool) (*boltstore.Store, error) {
	return boltstore.Open(dir, boltstore.Options{Clock: time.Now, MustExist: true, ReadOnly: readOnly, Rows: rows})
}

// newOldFolder makes a store with n entries whose rows are of the old form: one
// changed, one missing, one too many, one index missing, one that is no more. It
// also returns all rows that it should have in the new form.
func newOldFolder(t *testing.T, n int) (dir string, want []string) {
	t.Helper()
	dir = t.TempDir()
	s, err := boltstore.Open(dir, boltstore.Options{Clock: inventorytest.NewClock(inventorytest.Start()).Now, NoSync: true, Bulk: 1000, Rows: newRows})
	if err != nil {
		t.Fatal(err)
	}
	fill(t, s, n)
	if _, err := s.Append(t.Context(), inventory.Request{Actor: "user-1", Decide: inventorytest.Drafts(
		inventorytest.Change(inventorytest.Put("added", "a", "b")))}); err != nil {
		t.Fatal(err)
	}
	closeStore(t, s)
	want = rowsOf(t, dir)
	edit(t, dir, func(tx *bolt.Tx) error {
		all := tx.Bucket([]byte(boltstore.IndexPrefix + "all"))
		old, err := tx.CreateBucket([]byte(boltstore.IndexPrefix + "gone"))
		return errors.Join(err, old.Put([]byte("a"), []byte("b")),
			all.Put([]byte("0"), []byte("old")), all.Delete([]byte("1")), all.Put([]byte("none"), []byte("1")),
			tx.DeleteBucket([]byte(boltstore.IndexPrefix+"added")), boltstore.WriteRowForm(tx, oldRows.Form))
	})
	return dir, want
}

// wantRows holds all rows of a store, of every bucket, against what they
// should be, and has the store verified.
func wantRows(t *testing.T, dir string, want []string) {
	t.Helper()
	if got := rowsOf(t, dir); !slices.Equal(got, want) {
		t.Errorf("the store has %d rows that are not the %d wanted", len(got), len(want))
	}
	r, err := boltstore.Verify(t.Context(), dir, boltstore.VerifyOptions{Project: newRows.Project, Form: newRows.Form})
	if err != nil || r.Err() != nil || r.OtherForm || r.RowForm != newRows.Form || !r.Rebuilt {
		t.Errorf("verify: %+v (%v)", r, err)
	}
	left, err := filepath.Glob(filepath.Join(dir, "*"+boltstore.TempSuffix))
	if err != nil || len(left) > 0 {
		t.Errorf("there are left over %v (%v)", left, err)
	}
}

// TestOtherForm: a store with rows of another form gets what its entries
// derive, all else staying as it is, whether it is opened for reading or for
// writing; one whose form is right is not written again.
func TestOtherForm(t *testing.T) {
	for _, readOnly := range []bool{false, true} {
		dir, want := newOldFolder(t, 300)
		r, err := boltstore.Verify(t.Context(), dir, boltstore.VerifyOptions{Project: newRows.Project, Form: newRows.Form})
		if err != nil || r.Err() != nil || !r.OtherForm || r.RowForm != oldRows.Form || r.Rebuilt || r.Entries != 301 {
			t.Errorf("verify before: %+v (%v)", r, err)
		}
		var told []uint64
		s, err := boltstore.Open(dir, boltstore.Options{
			Clock: time.Now, ReadOnly: readOnly, Rows: newRows,
			Rebuilding: func(done, total uint64) { told = append(told, done, total) },
		})
		if err != nil {
			t.Fatal(err)
		}
		if err := s.View(t.Context(), func(r inventory.Reader) error {
			v, err := r.Get("all", []byte("0"))
			if string(v) != "1" {
				t.Errorf("a reader sees the row %q", v)
			}
			return err
		}); err != nil {
			t.Error(err)
		}
		if v, err := s.Vault().Get(t.Context(), "user/1"); string(v) != "secret" || err != nil {
			t.Errorf("the secret is %q (%v)", v, err)
		}
		closeStore(t, s)
		wantRows(t, dir, want)
		if n := len(told); n < 4 || told[0] != 0 || told[n-2] != told[n-1] || !slices.IsSorted(slices.Collect(func(yield func(uint64) bool) {
			for i := 0; i < n && yield(told[i]); i += 2 {
			}
		})) {
			t.Errorf("the progress was told as %v", told)
		}
		before, err := os.Stat(filepath.Join(dir, boltstore.FileName))
		if err != nil {
			t.Fatal(err)
		}
		if s, err = openRows(dir, newRows, readOnly); err != nil {
			t.Fatal(err)
		}
		closeStore(t, s)
		if after, err := os.Stat(filepath.Join(dir, boltstore.FileName)); err != nil || !os.SameFile(before, after) {
			t.Errorf("the file was replaced although its rows had the right form (%v)", err)
		}
	}
}

// TestFixtureWithoutForm: the fixture has no form noted, as stores had none at
// first; it gets its rows, and they are those that it had.
func TestFixtureWithoutForm(t *testing.T) {
	dir := unpackFixture(t, 1)
	before := rowsOf(t, dir)
	s, err := openRows(dir, projectStock().Derivation("test"), false)
	if err != nil {
		t.Fatal(err)
	}
	closeStore(t, s)
	after := slices.DeleteFunc(rowsOf(t, dir), func(row string) bool { return strings.HasPrefix(row, "meta 726f7773 ") })
	if !slices.Equal(after, slices.DeleteFunc(before, func(row string) bool { return strings.HasPrefix(row, "meta 726f7773 ") })) {
		t.Error("the rows differ")
	}
	if n, head := outsideCheck(t, dir); n != fixtureEntries || head != fixtureHead {
		t.Errorf("%d entries and head %s, want %d and %s", n, head, fixtureEntries, fixtureHead)
	}
}

// TestRebuildRefuses: where the rows can't be made again, the file stays as it
// is, nothing is left beside it, and the error says why.
func TestRebuildRefuses(t *testing.T) {
	spoilEntry := func(t *testing.T, dir string) {
		edit(t, dir, func(tx *bolt.Tx) error {
			b := tx.Bucket([]byte(boltstore.EntriesBucket))
			k := []byte{0, 0, 0, 0, 0, 0, 0, 7}
			v := bytes.Clone(b.Get(k))
			v[len(v)-3] ^= 1
			return b.Put(k, v)
		})
	}
	unknown := inventory.NewRegistry(inventory.Events()).Derivation("test") // knows no test.changed
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	for _, c := range []struct {
		name  string
		ctx   context.Context
		rows  inventory.Derivation
		spoil func(t *testing.T, dir string)
		want  error
	}{
		{"an unknown kind", t.Context(), unknown, nil, boltstore.ErrNotDerived},
		{"and its cause", t.Context(), unknown, nil, inventory.ErrUnknownKind},
		{"a changed entry", t.Context(), newRows, spoilEntry, boltstore.ErrDamaged},
		{"an ended context", ended, newRows, nil, context.Canceled},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir, _ := newOldFolder(t, 20)
			if c.spoil != nil {
				c.spoil(t, dir)
			}
			before := readAll(t, dir)
			s, err := boltstore.OpenContext(c.ctx, dir, boltstore.Options{Clock: time.Now, Rows: c.rows})
			if !errors.Is(err, c.want) {
				t.Errorf("open: %v, want %v", err, c.want)
			}
			if err == nil {
				closeStore(t, s)
			}
			if !bytes.Equal(before, readAll(t, dir)) {
				t.Error("the file was changed")
			}
			if names, err := os.ReadDir(dir); len(names) != 1 || err != nil {
				t.Errorf("the folder has %v (%v)", names, err)
			}
		})
	}
}

// TestUnknownMember: a member of a body that this program does not know keeps
// it from making rows that leave out what the member says.
func TestUnknownMember(t *testing.T) {
	reg := projectStock()
	body := func(s string) journal.Entry { return journal.Entry{Seq: 1, Kind: "lot.held", Body: []byte(s)} }
	w := inventorytest.NewMemory(time.Now)
	for text, want := range map[string]string{`{"product":"DLZ","reason":"a notice"}`: "", `{"product":"DLZ","reason":"a notice","later":1}`: "later"} {
		_, err := w.Append(t.Context(), inventory.Request{Actor: "user-1", Decide: inventorytest.Drafts(inventory.Draft{
			Kind: "lot.held", Body: body(text).Body, Rows: reg.Derivation("test").Project,
		})})
		if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want an error that names %q", text, err, want)
		}
	}
}

func readAll(t *testing.T, dir string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(dir, boltstore.FileName))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// childRebuild opens a store whose rows are old. At each stage, and before the
// rows of each entry that is named, it says so and waits for a line.
func childRebuild(args []string) error {
	in := bufio.NewReader(os.Stdin)
	pause := func(stage string) {
		fmt.Println(stage)
		_, _ = in.ReadString('\n')
	}
	boltstore.AtStage(pause)
	rows := newRows
	rows.Project = func(w inventory.Writer, e journal.Entry) error {
		if at := fmt.Sprint("entry ", e.Seq); slices.Contains(args[1:], at) {
			pause(at)
		}
		return inventorytest.Project(w, e)
	}
	s, err := openRows(args[0], rows, false)
	if err != nil {
		return err
	}
	pause("open")
	return s.Close()
}

// A rebuilder is a childRebuild under way.
type rebuilder struct {
	cmd *exec.Cmd
	in  io.WriteCloser
	out *bufio.Scanner
}

func startRebuild(t *testing.T, dir string, entries ...string) *rebuilder {
	t.Helper()
	cmd := child(t, "rebuild", append([]string{dir}, entries...)...)
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return &rebuilder{cmd, in, bufio.NewScanner(out)}
}

// next waits until the child stands at a stage.
func (r *rebuilder) next(t *testing.T, want string) {
	t.Helper()
	if !r.out.Scan() || r.out.Text() != want {
		t.Fatalf("the child is at %q, want %q", r.out.Text(), want)
	}
}

func (r *rebuilder) goOn(t *testing.T) {
	t.Helper()
	if _, err := fmt.Fprintln(r.in); err != nil {
		t.Fatal(err)
	}
}

func (r *rebuilder) kill() {
	_ = r.cmd.Process.Kill()
	_ = r.cmd.Wait()
}

// TestKillRebuild kills the process that makes rows at each of its stages, also
// among the entries. Up to the last the store is byte for byte what it was,
// nobody else can open it meanwhile, and the next who opens it makes the rows.
func TestKillRebuild(t *testing.T) {
	// More than a batch, so that some rows are committed when it dies.
	dir, want := newOldFolder(t, 10_500)
	before := readAll(t, dir)
	stages := []string{"copied", "entry 5", "entry 10400", "derived", "flushed", "renamed"}
	for i, last := range stages {
		r := startRebuild(t, dir, stages...)
		for _, stage := range stages[:i] {
			r.next(t, stage)
			r.goOn(t)
		}
		r.next(t, last)
		if last == "renamed" {
			r.kill()
			wantRows(t, dir, want)
			break
		}
		if !bytes.Equal(before, readAll(t, dir)) {
			t.Fatalf("%s: the store's file has changed", last)
		}
		wantInUse(t, last, func() error {
			s, err := openRows(dir, oldRows, true)
			if err == nil {
				err = s.Close()
			}
			return err
		})
		r.kill()
		if !bytes.Equal(before, readAll(t, dir)) {
			t.Fatalf("%s, killed: the store's file has changed", last)
		}
		left, err := filepath.Glob(filepath.Join(dir, "rows-*"+boltstore.TempSuffix))
		if err != nil || len(left) != 1 {
			t.Errorf("%s: left over %v (%v), want one file", last, left, err)
		}
	}
	s, err := openRows(dir, newRows, false)
	if err != nil {
		t.Fatal(err)
	}
	closeStore(t, s)
	wantRows(t, dir, want)
}

// TestRestoreOtherForm: a backup with rows of another form becomes a store with
// this program's; one whose rows can't be made leaves none.
func TestRestoreOtherForm(t *testing.T) {
	dir, want := newOldFolder(t, 300)
	copied := readAll(t, dir)
	to := filepath.Join(t.TempDir(), "restored")
	o := boltstore.VerifyOptions{Project: newRows.Project, Form: newRows.Form}
	r, err := boltstore.Restore(t.Context(), bytes.NewReader(copied), to, o)
	if err != nil || r.OtherForm || !r.Rebuilt || r.Entries != 301 {
		t.Fatalf("restore: %+v (%v)", r, err)
	}
	wantRows(t, to, want)
	none := filepath.Join(t.TempDir(), "none")
	o.Project = inventory.NewRegistry().Derivation("test").Project
	if _, err := boltstore.Restore(t.Context(), bytes.NewReader(copied), none, o); !errors.Is(err, boltstore.ErrNotDerived) {
		t.Errorf("restore of what is not understood: %v", err)
	}
	if left, err := os.ReadDir(none); len(left) != 0 || err != nil {
		t.Errorf("the folder has %v (%v)", left, err)
	}
}
