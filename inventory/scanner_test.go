package inventory_test

import (
	"context"
	"errors"
	"reflect"
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
	"lotbook/scanner/wedge"
)

// A scanner's profile is kept as it was found, the last one counts, and what no
// test sheet gives is refused. The store is verified when the test ends.
func TestScannersAreKept(t *testing.T) {
	ctx := context.Background()
	now := time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)
	clock := func() time.Time { return now }
	dir := t.TempDir()
	store, err := boltstore.Open(dir, boltstore.Options{Clock: clock, NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	reg := inventory.NewRegistry(inventory.Events())
	inventorytest.VerifyBolt(t, dir, reg.Project)
	t.Cleanup(func() { _ = store.Close() })
	b := inventory.NewBook(store, reg, clock)
	call := inventory.Call{Actor: "nurse"}

	whole := wedge.Profile{Separator: "|", Prefix: "*", Suffix: "#\x1d", Scanner: wedge.US, Host: wedge.German, CapsLock: wedge.CapsOff}
	for _, s := range []inventory.Scanner{{ID: "Station 2", Profile: wedge.Profile{Separator: wedge.Dropped}}, {ID: "Station 1"}, {ID: "Station 1", Profile: whole}} {
		if _, err := b.SetScanner(ctx, call, s); err != nil {
			t.Fatal(err)
		}
		now = now.Add(time.Hour)
	}
	var list []inventory.Scanner
	var one inventory.Scanner
	err = b.View(ctx, func(r inventory.Reader) (err error) {
		if list, err = inventory.Scanners(r); err != nil {
			return err
		}
		if _, err := inventory.ScannerByID(r, "Station 3"); !errors.Is(err, inventory.ErrNotFound) {
			t.Errorf("an unknown scanner: %v", err)
		}
		one, err = inventory.ScannerByID(r, "Station 1")
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	want := inventory.Scanner{ID: "Station 1", Profile: whole, Since: now.Add(-time.Hour), By: "nurse"}
	if len(list) != 2 || !reflect.DeepEqual(list[0], want) || list[1].ID != "Station 2" || !reflect.DeepEqual(one, want) {
		t.Errorf("kept %+v and %+v, want %+v", list, one, want)
	}
	for _, s := range []inventory.Scanner{
		{},
		{ID: "a\x00b"},
		{ID: inventory.ScannerID(strings.Repeat("x", 65))},
		{ID: "x", Profile: wedge.Profile{Prefix: strings.Repeat("*", 33)}},
		{ID: "x", Profile: wedge.Profile{Scanner: "xx", Host: "us"}},
		{ID: "x", Profile: wedge.Profile{Host: "us"}},
		{ID: "x", Profile: wedge.Profile{CapsLock: "maybe"}},
	} {
		if _, err := b.SetScanner(ctx, call, s); !errors.Is(err, inventory.ErrInvalid) {
			t.Errorf("%+v: %v", s, err)
		}
	}
}
