package inventory

import (
	"errors"
	"fmt"
	"time"

	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// ixRefused: product lot time seq -> pieces, cause, supplier, order, delivery
// note, by whom; what stands.
const ixRefused Index = "refused"

// Refused says that pieces came and went back at once: they never were the
// unit's.
type Refused struct {
	Stock
	Cause    string `json:"cause"`
	Supplier string `json:"supplier,omitempty"`
	Order    string `json:"order,omitempty"`
	Papers
}

// Kind implements Event.
func (*Refused) Kind() string { return "stock.refused" }

func (v *Refused) refusedKey(e journal.Entry) []byte {
	return rowcode.AppendNumber(rowcode.AppendTime(v.lot().key(), e.Happened), e.Seq)
}

// Project implements Event.
func (v *Refused) Project(w Writer, e journal.Entry) error {
	row := rowcode.NewEnc(1, 64)
	row.Int(v.Quantity)
	for _, s := range []string{v.Cause, v.Supplier, v.Order, v.Delivery, e.Actor} {
		row.Text(s)
	}
	return errors.Join(w.Put(ixReceipt, receiptKey(e), nil), w.Put(ixRefused, v.refusedKey(e), row.Bytes()), v.log(w, e, 0))
}

// Void implements Voider.
func (v *Refused) Void(w Writer, e, c journal.Entry) error {
	return errors.Join(w.Delete(ixReceipt, receiptKey(e)), w.Delete(ixRefused, v.refusedKey(e)), v.log(w, e, c.Seq))
}

func (v *Refused) log(w Writer, e journal.Entry, struck uint64) error {
	return logOrder(w, e, OrderID(v.Order), orderRow{What: orderRefused, Lot: v.lot(), Pieces: v.Quantity, Note: v.Cause, Struck: struck})
}

// RefusedPieces are pieces of a lot that came and went back at once. They were
// never received, so they are no part of a mass balance.
type RefusedPieces struct {
	Entry    uint64    `json:"entry"`
	At       time.Time `json:"at"`
	By       string    `json:"by"`
	Quantity int64     `json:"quantity"`
	Cause    string    `json:"cause"`
	Supplier string    `json:"supplier,omitempty"`
	Order    string    `json:"order,omitempty"`
	Delivery string    `json:"delivery,omitempty"`
}

// RefusedOf returns what was refused of a lot, in the order in which it came.
// What was refused under a number that was in no catalogue is under that id.
func RefusedOf(r Reader, l Lot) (list []RefusedPieces, err error) {
	err = r.Scan(ixRefused, l.key(), nil, func(key, row []byte) error {
		k := rowcode.ReadKey(key)
		lotFromKey(k)
		p := RefusedPieces{At: k.Time(), Entry: k.Number()}
		if err := k.Err(); err != nil {
			return fmt.Errorf("key of refused pieces: %w", err)
		}
		d := rowcode.NewDec(1, row)
		p.Quantity = d.Int()
		for _, s := range []*string{&p.Cause, &p.Supplier, &p.Order, &p.Delivery, &p.By} {
			*s = d.Text()
		}
		list = append(list, p)
		return d.Err()
	})
	return list, err
}
