package inventorytest

import (
	"context"
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// A Target is a kind of store to be tested.
type Target struct {
	// Open opens the store in a folder, and makes it if there is none. What
	// was written to a folder must be there when it is opened again.
	Open func(dir string, clock func() time.Time) (inventory.Store, error)
	// Check, if there is one, looks at the store in a folder, which nobody
	// has open, after each test: its rows must be those that Project
	// derives from its entries.
	Check func(dir string) error
}

// Run tests a kind of store against the contract.
func Run(t *testing.T, target Target) {
	t.Run("Empty", func(t *testing.T) { testEmpty(t, target) })
	t.Run("Entries", func(t *testing.T) { testEntries(t, target) })
	t.Run("Parts", func(t *testing.T) { testParts(t, target) })
	t.Run("Times", func(t *testing.T) { testTimes(t, target) })
	t.Run("Unit", func(t *testing.T) { testUnit(t, target) })
	t.Run("Reopen", func(t *testing.T) { testReopen(t, target) })
	t.Run("LargeBody", func(t *testing.T) { testLargeBody(t, target) })

	t.Run("NoDrafts", func(t *testing.T) { testNoDrafts(t, target) })
	t.Run("DecideError", func(t *testing.T) { testDecideError(t, target) })
	t.Run("DecidePanic", func(t *testing.T) { testDecidePanic(t, target) })
	t.Run("RowsError", func(t *testing.T) { testRowsError(t, target) })
	t.Run("RowsPanic", func(t *testing.T) { testRowsPanic(t, target) })
	t.Run("RowsErrorAmongOthers", func(t *testing.T) { testRowsErrorAmongOthers(t, target) })
	t.Run("RowsSeeWhatCameBefore", func(t *testing.T) { testRowsSee(t, target) })
	t.Run("RowsScanWhatTheyChanged", func(t *testing.T) { testRowsScan(t, target) })

	t.Run("Replay", func(t *testing.T) { testReplay(t, target) })
	t.Run("KeyReused", func(t *testing.T) { testKeyReused(t, target) })
	t.Run("KeysOfActors", func(t *testing.T) { testKeysOfActors(t, target) })
	t.Run("KeyLength", func(t *testing.T) { testKeyLength(t, target) })
	t.Run("NoKey", func(t *testing.T) { testNoKey(t, target) })
	t.Run("OneKeyManyTimes", func(t *testing.T) { testOneKeyManyTimes(t, target) })

	t.Run("SerialDecisions", func(t *testing.T) { testSerialDecisions(t, target) })
	t.Run("Snapshot", func(t *testing.T) { testSnapshot(t, target) })
	t.Run("ViewError", func(t *testing.T) { testViewError(t, target) })
	t.Run("Context", func(t *testing.T) { testContext(t, target) })
	t.Run("ContextWhileWaiting", func(t *testing.T) { testContextWaiting(t, target) })
	t.Run("ContextWhenBegun", func(t *testing.T) { testContextBegun(t, target) })
	t.Run("CloseWaits", func(t *testing.T) { testCloseWaits(t, target) })
	t.Run("Closed", func(t *testing.T) { testClosed(t, target) })

	t.Run("Rows", func(t *testing.T) { testRows(t, target) })
	t.Run("RowsAreCopied", func(t *testing.T) { testRowsAreCopied(t, target) })
	t.Run("Scan", func(t *testing.T) { testScan(t, target) })
	t.Run("ScanBack", func(t *testing.T) { testScanBack(t, target) })
	t.Run("ScanEnds", func(t *testing.T) { testScanEnds(t, target) })
	t.Run("ScanInScan", func(t *testing.T) { testScanInScan(t, target) })
	t.Run("ScanManyRows", func(t *testing.T) { testScanMany(t, target) })

	t.Run("Vault", func(t *testing.T) { testVault(t, target) })
	t.Run("VaultScan", func(t *testing.T) { testVaultScan(t, target) })
	t.Run("VaultLimits", func(t *testing.T) { testVaultLimits(t, target) })

	t.Run("Model", func(t *testing.T) { testModel(t, target) })
}

// A bench is a store on the bench: open, with its clock and its folder.
type bench struct {
	rapid.TB // a *testing.T, or that of one of rapid's tries
	target   Target
	dir      string
	clock    *Clock
	store    inventory.Store
	ctx      context.Context
}

// setUp opens a fresh store. When the test ends it is closed and checked.
func setUp(t testing.TB, target Target) *bench {
	t.Helper()
	b := newBench(t, target, t.TempDir())
	t.Cleanup(b.tearDown)
	return b
}

func newBench(t rapid.TB, target Target, dir string) *bench {
	t.Helper()
	b := &bench{TB: t, target: target, dir: dir, clock: NewClock(Start()), ctx: context.Background()}
	b.open()
	return b
}

func (b *bench) tearDown() {
	b.Helper()
	if err := b.store.Close(); err != nil {
		b.Errorf("close: %v", err)
	}
	if b.target.Check != nil {
		if err := b.target.Check(b.dir); err != nil {
			b.Errorf("the store as the test left it: %v", err)
		}
	}
}

func (b *bench) open() {
	b.Helper()
	s, err := b.target.Open(b.dir, b.clock.Now)
	if err != nil {
		b.Fatalf("open: %v", err)
	}
	b.store = s
}

func (b *bench) reopen() {
	b.Helper()
	if err := b.store.Close(); err != nil {
		b.Fatalf("close: %v", err)
	}
	b.open()
}

// append appends and fails the test if that fails.
func (b *bench) append(req inventory.Request) inventory.Receipt {
	b.Helper()
	r, err := b.store.Append(b.ctx, req)
	if err != nil {
		b.Fatalf("append: %v", err)
	}
	return r
}

// change appends one entry that changes rows.
func (b *bench) change(ops ...Op) inventory.Receipt {
	b.Helper()
	return b.append(inventory.Request{Actor: "user-1", Decide: Drafts(Change(ops...))})
}

func (b *bench) view(fn func(inventory.Reader) error) {
	b.Helper()
	if err := b.store.View(b.ctx, fn); err != nil {
		b.Fatalf("view: %v", err)
	}
}

func (b *bench) head() (h journal.Head) {
	b.Helper()
	b.view(func(r inventory.Reader) error {
		h = r.Head()
		return nil
	})
	return h
}

// get returns a row as text, "-" if there is none.
func (b *bench) get(ix inventory.Index, key string) (value string) {
	b.Helper()
	b.view(func(r inventory.Reader) error {
		v, err := r.Get(ix, []byte(key))
		value = string(v)
		if v == nil {
			value = "-"
		}
		return err
	})
	return value
}

// wantHead says where the journal must end.
func (b *bench) wantHead(seq uint64) {
	b.Helper()
	if h := b.head(); h.Seq != seq {
		b.Errorf("the journal ends with entry %d, want %d", h.Seq, seq)
	}
}

func (b *bench) wantRow(ix inventory.Index, key, want string) {
	b.Helper()
	if got := b.get(ix, key); got != want {
		b.Errorf("row %q of index %q is %q, want %q", key, ix, got, want)
	}
}

// sameEntry compares all of two entries.
func sameEntry(got, want journal.Entry) error {
	if g, w := string(got.AppendCanonical(nil)), string(want.AppendCanonical(nil)); g != w {
		return fmt.Errorf("entry %+v, want %+v", got, want)
	}
	if got.Recorded.Location() != time.UTC || got.Happened.Location() != time.UTC {
		return fmt.Errorf("entry %d has times that are not UTC", got.Seq)
	}
	return nil
}
