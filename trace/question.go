package trace

import (
	"strings"

	"lotbook/inventory"
)

// A Question asks about a lot. Product is a GTIN of 8 to 14 digits, of any of
// the product's packs, or a product's id.
type Question struct {
	Product string `json:"product"`
	Lot     string `json:"lot"`
	// NoLot asks about the pieces of which no lot number is on record; Lot is
	// empty then.
	NoLot bool `json:"no_lot,omitempty"`
}

// keys are the lots that a question is about: the product's, and the same
// number under the GTINs of its packs, from before it was in the catalogue.
type keys struct {
	product  *inventory.Product // nil if not in the catalogue
	id       inventory.ProductID
	lots     []inventory.Lot
	category inventory.Category
}

func (k *keys) has(id inventory.ProductID) bool {
	for _, l := range k.lots {
		if l.Product == id {
			return true
		}
	}
	return false
}

func (b *Book) keysOf(r inventory.Reader, q Question) (keys, error) {
	var k keys
	q.Lot = strings.TrimSpace(q.Lot)
	if q.NoLot && q.Lot != "" {
		return k, inventory.Invalid("lot", "Ask about a lot, or about what has no lot number.", "lot %s has a number", q.Lot)
	}
	if q.Lot == "" && !q.NoLot {
		return k, inventory.Invalid("lot", "Give the lot number as it is printed.", "there is no lot number")
	}
	id := inventory.ProductID(strings.TrimSpace(q.Product))
	if gtin, ok := gtin14(string(id)); ok {
		p, _, err := b.ProductByGTIN(r, gtin)
		if err != nil {
			return k, err
		}
		if p != nil {
			k.product = p
		} else {
			id = inventory.ProvisionalID(gtin)
		}
	}
	if k.product == nil {
		p, err := b.Product(r, id)
		if err != nil {
			return k, err
		}
		if p == nil {
			p, _, err = b.ProductByCode(r, id)
			if err != nil {
				return k, err
			}
		}
		k.product = p
	}
	if k.product == nil {
		if !id.Provisional() {
			return k, inventory.NotFound("product", q.Product, "Give a GTIN with a right check digit, or the id of a product in the catalogue.")
		}
		k.id = id
		k.lots = []inventory.Lot{{Product: id, Number: q.Lot}}
		return k, nil
	}
	k.id, k.category = k.product.ID, k.product.Category
	k.lots = []inventory.Lot{{Product: k.id, Number: q.Lot}}
	for _, p := range k.product.ProvisionalIDs() {
		k.lots = append(k.lots, inventory.Lot{Product: p, Number: q.Lot})
	}
	return k, nil
}

// gtin14 returns a GTIN of 8, 12, 13 or 14 digits as 14.
func gtin14(s string) (string, bool) {
	if n := len(s); n != 8 && n != 12 && n != 13 && n != 14 {
		return "", false
	}
	s = strings.Repeat("0", 14-len(s)) + s
	return s, inventory.ValidGTIN14(s)
}

// Identify returns the id of a product that is given as one, as a GTIN of 8 to
// 14 digits, or as another agency's code. What is not in the catalogue gets its
// provisional id; what is none of these is refused.
func (b *Book) Identify(r inventory.Reader, product string) (inventory.ProductID, error) {
	k, err := b.keysOf(r, Question{Product: product, NoLot: true})
	return k.id, err
}
