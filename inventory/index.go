package inventory

// The derived indexes of this package. Texts in keys end with a zero byte.
const (
	ixUnit      Index = "unit"      // "unit" -> unit document; kept, category -> since when it is kept by lot
	ixProduct   Index = "product"   // product -> seq, product document
	ixGTIN      Index = "gtin"      // GTIN-14 or another agency's code -> product, pack
	ixLocation  Index = "location"  // location -> document
	ixLot       Index = "lot"       // product lot -> facts of the lot
	ixLotFold   Index = "lotfold"   // folded lot, product, lot -> nothing
	ixLedger    Index = "ledger"    // product lot time seq -> movement
	ixPlace     Index = "place"     // location product time seq lot -> movement as seen there
	ixBalance   Index = "balance"   // location product lot -> quantity and its anchor
	ixOnHand    Index = "onhand"    // location product lot -> nothing; only while the quantity is not 0
	ixHold      Index = "hold"      // product lot seq -> reason; lot empty for all lots
	ixHoldAs    Index = "holdas"    // provisional id -> nothing; there is or was a hold on it
	ixScopeHold Index = "scopehold" // product, name of the hold -> what it means, and why
	ixScopeOf   Index = "scopeof"   // name of the hold, product -> nothing
	ixCount     Index = "count"     // location time seq -> shift, complete
	ixUnnamed   Index = "unnamed"   // seq of a complete count, product lot -> nothing; lines it got later
	ixKnown     Index = "known"     // GTIN-14 -> orders and shapes of its labels, and who showed them
	ixScanner   Index = "scanner"   // scanner -> since, by, profile
	ixOrdering  Index = "ordering"  // product, empty for the unit -> how it is ordered
	ixStruck    Index = "struck"    // seq of an entry -> seq of the correction that struck it out
	ixOrder     Index = "order"     // order -> supplier, state, placed, expected
	ixOrderAs   Index = "orderas"   // provisional id, order -> nothing; orders about it
	ixLotAs     Index = "lotas"     // provisional id, lot -> facts of the lot under it; while a product has the number
	ixOrderLog  Index = "orderlog"  // order time seq -> what became of it
	ixArrival   Index = "arrival"   // product time seq -> pieces, supplier, order
	ixReceipt   Index = "receipt"   // time seq -> nothing; deliveries' lines that stand
	ixImport    Index = "import"    // list, sum of a file -> how far it was taken in
	ixImportRow Index = "importrow" // list, key of a row, sum of a file -> in which run it was taken
	ixLabel     Index = "label"     // SSCC, or GTIN and serial, seq -> nothing; of what was taken in
	ixContent   Index = "content"   // product lot, entry, product lot -> pieces; what a kit's lot or a batch holds
	ixKitOf     Index = "kitof"     // component product, kit -> nothing
	ixWithin    Index = "within"    // product lot, product lot of what holds it, entry -> pieces
)
