package inventorytest_test

import (
	"testing"

	"lotbook/inventory/inventorytest"
)

func TestMemory(t *testing.T) {
	inventorytest.Run(t, inventorytest.Target{Open: new(inventorytest.Memory).Open})
}
