package boltstore_test

import (
	"bytes"
	"errors"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
	"lotbook/inventory/journal"
)

// newDamaged returns the file of a small, compact store, for damaging.
func newDamaged(t *testing.T) []byte {
	t.Helper()
	dir := newFolder(t, 200)
	if _, err := boltstore.Compact(t.Context(), dir); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(filepath.Join(dir, boltstore.FileName))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// put makes a folder with a store's file of these bytes.
func put(t *testing.T, b []byte) (dir string) {
	t.Helper()
	dir = t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, boltstore.FileName), b, 0o600); err != nil {
		t.Fatal(err)
	}
	return dir
}

// TestFlips turns one bit of a store's file, 300 times. Where a check finds
// nothing wrong every row must be what it was: the bit lay in unused room.
func TestFlips(t *testing.T) {
	const flips, inChild = 300, 20
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 0))
	sound := newDamaged(t)
	want := rowsOf(t, put(t, sound))
	found, refused, unused := 0, 0, 0
	for i := range flips {
		bit := random.IntN(len(sound) * 8)
		b := slices.Clone(sound)
		b[bit/8] ^= 1 << (bit % 8)
		dir := put(t, b)
		r, err := boltstore.Verify(t.Context(), dir, boltstore.VerifyOptions{Project: inventorytest.Project})
		if i < inChild {
			inOther, errOther := boltstore.VerifyChild(t.Context(), child(t, "verify", dir), boltstore.ChildOptions{})
			if len(inOther.Problems) != len(r.Problems) || (err == nil) != (errOther == nil) {
				t.Errorf("bit %d: in a child %v (%v), here %v (%v)", bit, inOther.Problems, errOther, r.Problems, err)
			}
		}
		switch {
		case err != nil:
			refused++
		case r.Err() != nil:
			found++
		default:
			unused++
			if !slices.Equal(rowsOf(t, dir), want) {
				t.Errorf("bit %d of byte %d changed the content, and nobody noticed", bit%8, bit/8)
			}
		}
	}
	t.Logf("%d bits: %d found, %d refused, %d in unused room", flips, found, refused, unused)
	if found < flips/4 {
		t.Errorf("only %d of %d were found: the file is nearly empty", found, flips)
	}
}

// TestFlipsEverywhere turns the first 400 bits of a row of each bucket: none may go
// unnoticed, and the problem names the right part.
func TestFlipsEverywhere(t *testing.T) {
	sound := newDamaged(t)
	dir := put(t, sound)
	type row struct{ k, v []byte }
	rows := map[string]row{}
	db, err := bolt.Open(filepath.Join(dir, boltstore.FileName), 0o600, &bolt.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	err = errors.Join(db.View(func(tx *bolt.Tx) error {
		return tx.ForEach(func(name []byte, b *bolt.Bucket) error {
			if k, v := b.Cursor().Last(); k != nil {
				rows[string(name)] = row{bytes.Clone(k), bytes.Clone(v)}
			}
			return nil
		})
	}), db.Close())
	if err != nil {
		t.Fatal(err)
	}
	for bucket, place := range map[string]boltstore.Place{
		boltstore.EntriesBucket: boltstore.InEntry, boltstore.KeysBucket: boltstore.InKey,
		boltstore.VaultBucket: boltstore.InVault, boltstore.IndexPrefix + "all": boltstore.InIndex,
		boltstore.IndexPrefix + "last": boltstore.InIndex,
	} {
		r := rows[bucket]
		if len(r.v) == 0 {
			t.Fatalf("bucket %q has no row to damage", bucket)
		}
		for bit := range min(len(r.v)*8, 400) {
			spoilt := put(t, sound)
			edit(t, spoilt, func(tx *bolt.Tx) error {
				v := bytes.Clone(r.v)
				v[bit/8] ^= 1 << (bit % 8)
				return tx.Bucket([]byte(bucket)).Put(r.k, v)
			})
			report, err := boltstore.Verify(t.Context(), spoilt, boltstore.VerifyOptions{Project: inventorytest.Project})
			if err != nil {
				t.Fatal(err)
			}
			if len(report.Problems) == 0 || report.Problems[0].Place != place {
				t.Fatalf("bucket %q, bit %d: problems %v, want one of place %q", bucket, bit, report.Problems, place)
			}
		}
	}
}

// TestRowsThatShouldNotBe: rows that nothing accounts for are found, and so is
// a checkpoint that is not its entry's hash.
func TestRowsThatShouldNotBe(t *testing.T) {
	unused := append([]byte{0, 6}, "user-1unused"...)
	for _, c := range []struct {
		bucket     string
		key, value []byte
		place      boltstore.Place
	}{
		{boltstore.KeysBucket, unused, []byte{0, 0, 0, 0, 0, 0, 0, 1, 0, 1}, boltstore.InKey},
		{boltstore.EntriesBucket, []byte{0, 0, 0, 0, 0, 0, 0, 9}, []byte("an entry too many"), boltstore.InEntry},
		{boltstore.EntriesBucket, []byte{1}, []byte("a key too short"), boltstore.InEntry},
		{boltstore.CheckpointBucket, []byte{0, 0, 0, 0, 0, 0, 0x10, 0}, make([]byte, 32), boltstore.InCheckpoint},
		{boltstore.IndexPrefix + "all", []byte("x"), []byte("1"), boltstore.InIndex},
		{boltstore.VaultBucket, []byte("user/2"), []byte("unsealed"), boltstore.InVault},
	} {
		dir := newFolder(t, 5)
		edit(t, dir, func(tx *bolt.Tx) error { return tx.Bucket([]byte(c.bucket)).Put(c.key, c.value) })
		r, err := boltstore.Verify(t.Context(), dir, boltstore.VerifyOptions{Project: inventorytest.Project})
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Problems) == 0 || r.Problems[0].Place != c.place {
			t.Errorf("row %q of bucket %q: problems %v, want one of place %q", c.key, c.bucket, r.Problems, c.place)
		}
	}
}

// TestPageNobodyHas: a page that is neither in use nor listed as free is found.
func TestPageNobodyHas(t *testing.T) {
	b, err := os.ReadFile(filepath.Join(newFolder(t, 200), boltstore.FileName))
	if err != nil {
		t.Fatal(err)
	}
	const page, freelist = 4096, 0x10
	for at := 0; at < len(b); at += page {
		if b[at+8] == freelist && b[at+9] == 0 { // the page's flags
			b[at+10], b[at+11] = 0, 0 // how many it lists
		}
	}
	r, err := boltstore.Verify(t.Context(), put(t, b), boltstore.VerifyOptions{})
	if err != nil || r.Err() == nil || r.Problems[0].Place != boltstore.InPage || !strings.Contains(r.Problems[0].Why, "neither") {
		t.Errorf("problems %v (%v)", r.Problems, err)
	}
}

// TestChildThatDies: a check that ends its process, or stands still, is the
// report of a damaged file.
func TestChildThatDies(t *testing.T) {
	for name, why := range map[string]string{"crash": "the test's own crash", "hang": "made no headway"} {
		r, err := boltstore.VerifyChild(t.Context(), child(t, name), boltstore.ChildOptions{Stall: 3 * time.Second})
		if err != nil || !errors.Is(r.Err(), boltstore.ErrDamaged) || !strings.Contains(r.Err().Error(), why) {
			t.Errorf("%s: %v (%v), want %q", name, r.Err(), err, why)
		}
	}
}

// TestRestoreRefuses: a damaged copy leaves no store behind, and one that is
// there is never replaced.
func TestRestoreRefuses(t *testing.T) {
	b := newDamaged(t)
	at := bytes.Index(b, []byte("secret"))
	if at < 0 {
		t.Fatal("the secret is not in the file")
	}
	b[at] ^= 1
	dir := filepath.Join(t.TempDir(), "unit")
	if _, err := boltstore.Restore(t.Context(), bytes.NewReader(b), dir, boltstore.VerifyOptions{}); !errors.Is(err, boltstore.ErrDamaged) {
		t.Errorf("a damaged copy: %v", err)
	}
	if left, err := os.ReadDir(dir); len(left) != 0 || err != nil {
		t.Errorf("the folder has %v (%v)", left, err)
	}
	b[at] ^= 1
	if _, err := boltstore.Restore(t.Context(), bytes.NewReader(b[:len(b)/2]), dir, boltstore.VerifyOptions{}); !errors.Is(err, boltstore.ErrDamaged) {
		t.Errorf("half a copy: %v", err)
	}
	if _, err := boltstore.Restore(t.Context(), bytes.NewReader(b), dir, boltstore.VerifyOptions{}); err != nil {
		t.Errorf("a sound copy: %v", err)
	}
	if _, err := boltstore.Restore(t.Context(), bytes.NewReader(b), dir, boltstore.VerifyOptions{}); !errors.Is(err, fs.ErrExist) {
		t.Errorf("over a store: %v", err)
	}
}

// TestCutOff: entries cut off the end are found by a head that was noted
// elsewhere, and by nothing else.
func TestCutOff(t *testing.T) {
	dir := newFolder(t, 20)
	r, err := boltstore.Verify(t.Context(), dir, boltstore.VerifyOptions{Project: inventorytest.Project})
	if err != nil || r.Err() != nil {
		t.Fatal(err, r.Err())
	}
	note := []journal.Checkpoint{r.Head}
	shorter := newFolder(t, 18) // the same clock and keys, so the same entries
	for _, c := range []struct {
		name  string
		dir   string
		notes []journal.Checkpoint
		wrong uint64
	}{{"whole", dir, note, 0}, {"without a note", shorter, nil, 0}, {"with a note", shorter, note, 19}} {
		r, err := boltstore.Verify(t.Context(), c.dir, boltstore.VerifyOptions{Project: inventorytest.Project, Checkpoints: c.notes})
		if err != nil {
			t.Fatal(err)
		}
		if c.wrong == 0 && r.Err() != nil || c.wrong != 0 && (len(r.Problems) != 1 || r.Problems[0].Seq != c.wrong) {
			t.Errorf("%s: problems %v, want entry %d", c.name, r.Problems, c.wrong)
		}
	}
}
