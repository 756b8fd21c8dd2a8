package boltstore_test

import (
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/inventorytest"
)

func TestSuite(t *testing.T) {
	inventorytest.Run(t, inventorytest.Target{
		Open: func(dir string, clock func() time.Time) (inventory.Store, error) {
			return boltstore.Open(dir, boltstore.Options{Clock: clock})
		},
		Check: check,
	})
}

// check verifies a store that a test of inventorytest left.
func check(dir string) error { return inventorytest.CheckBolt(dir, inventorytest.Project) }
