// Package inventorytest tells whether a store keeps the promises of
// [inventory.Store]: [Run] puts it through each of them, and then through
// random ones against a model made of plain maps.
//
//	func TestStore(t *testing.T) {
//		inventorytest.Run(t, inventorytest.Target{Open: ..., Check: ...})
//	}
//
// The package also has what tests of other packages need: a [Clock] that goes
// when it is told to, a store in memory ([Memory]), and [OpenBolt], a store in
// a temporary folder that is verified when the test ends.
//
// It imports testing, so nothing but tests may import it.
package inventorytest
