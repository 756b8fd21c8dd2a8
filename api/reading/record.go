package reading

import (
	"lotbook/inventory"
	"lotbook/scanner/wedge"
	"lotbook/trace"
)

// Profile returns what a scanner that was tested does to text: that of its name,
// or usual where there is no name. A name that is not known is a Refusal.
func Profile(r inventory.Reader, name inventory.ScannerID, usual wedge.Profile) (wedge.Profile, error) {
	if name == "" {
		return usual, nil
	}
	s, err := inventory.ScannerByID(r, name)
	return s.Profile, err
}

// Known returns a function for scanner.Options that looks into a book, on a
// snapshot of it. fail is told of an error of the store.
func Known(r inventory.Reader, fail func(error)) func(gtin string) *wedge.Known {
	return func(gtin string) *wedge.Known {
		k, err := inventory.KnownOf(r, gtin)
		if err != nil {
			fail(err)
		}
		return k
	}
}

// OnRecord returns a function for Given that looks into a book, on a snapshot of
// it. A lot that is on record with another expiry date is not that lot. fail is
// told of an error of the store.
func OnRecord(b *trace.Book, r inventory.Reader, fail func(error)) func(gtin, lot string, expires inventory.Date) bool {
	return func(gtin, lot string, expires inventory.Date) bool {
		p, _, err := b.ProductByGTIN(r, gtin)
		if err != nil {
			fail(err)
			return false
		}
		id := inventory.ProvisionalID(gtin)
		if p != nil {
			id = p.ID
		}
		f, ok, err := inventory.LotFactsOf(r, inventory.Lot{Product: id, Number: lot})
		if err != nil {
			fail(err)
			return false
		}
		return ok && (f.Expires == "" || expires == "" || f.Expires == expires)
	}
}
