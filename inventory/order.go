package inventory

import (
	"encoding/json"
	"strings"

	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// An OrderID is an order's number: the unit's own, or the one that the supplier
// gave it. A delivery names it.
type OrderID string

// An Order is what was ordered of a supplier. It holds no prices.
type Order struct {
	ID       OrderID     `json:"id"`
	Supplier string      `json:"supplier"`
	Lines    []OrderLine `json:"lines"`
	// Expected is the day on which the delivery should come, empty if the
	// supplier named none.
	Expected Date   `json:"expected,omitempty"`
	Note     string `json:"note,omitempty"`
}

// An OrderLine is a product and how much of it was ordered. A product stands on
// one line of an order.
type OrderLine struct {
	Product ProductID `json:"product"`
	// GTIN and Packs say which pack was ordered, where it was told so.
	GTIN  string `json:"gtin,omitempty"`
	Packs int64  `json:"packs,omitempty"`
	// Quantity in pieces; it is what counts.
	Quantity int64 `json:"quantity"`
}

// OrderSet places an order, or says what it is since a change: it holds all of
// it. Which version is in force goes by when they happened, whenever they were
// recorded.
type OrderSet struct {
	Order
	// Reason is why it was changed; empty for a new order.
	Reason string `json:"reason,omitempty"`
	// Confirmed are the codes of questions that a person confirmed: that it
	// had been cancelled, and is wanted again.
	Confirmed []string `json:"confirmed,omitempty"`
}

// Kind implements Event.
func (*OrderSet) Kind() string { return "order.set" }

// Project implements Event.
func (o *OrderSet) Project(w Writer, e journal.Entry) error { return o.log(w, e, 0) }

// Void implements Voider.
func (o *OrderSet) Void(w Writer, e, c journal.Entry) error { return o.log(w, e, c.Seq) }

func (o *OrderSet) log(w Writer, e journal.Entry, struck uint64) error {
	doc, err := json.Marshal(&o.Order)
	if err != nil {
		return err
	}
	return logOrder(w, e, o.ID, orderRow{What: orderVersion, Doc: doc, Note: o.Reason, Struck: struck})
}

// OrderCancelled says that nothing more is to come of an order.
type OrderCancelled struct {
	Order  OrderID `json:"order"`
	Reason string  `json:"reason"`
}

// Kind implements Event.
func (*OrderCancelled) Kind() string { return "order.cancelled" }

// Project implements Event.
func (o *OrderCancelled) Project(w Writer, e journal.Entry) error {
	return logOrder(w, e, o.Order, orderRow{What: orderCancelled, Note: o.Reason})
}

// Void implements Voider.
func (o *OrderCancelled) Void(w Writer, e, c journal.Entry) error {
	return logOrder(w, e, o.Order, orderRow{What: orderCancelled, Note: o.Reason, Struck: c.Seq})
}

// What a row of an order's log says. The numbers are stored.
type orderWhat uint64

const (
	orderVersion   orderWhat = iota + 1 // placed, or changed
	orderCancelled                      // nothing more is awaited
	orderCame                           // pieces came and were taken in
	orderRefused                        // pieces came and went back at once
	orderAwaited                        // pieces did not come, and are awaited
	orderClosed                         // pieces did not come, and will not
)

// An orderRow is a row of an order's log.
type orderRow struct {
	What   orderWhat
	Doc    []byte // of a version
	Note   string
	Lot    Lot
	Pieces int64
	Struck uint64

	moment
}

func orderKey(id OrderID) []byte { return rowcode.AppendText(nil, string(id)) }

// logOrder writes a row of an order's log, and makes its line in the list of
// orders anew.
func logOrder(w Writer, e journal.Entry, id OrderID, row orderRow) error {
	if id == "" {
		return nil
	}
	v := rowcode.NewEnc(1, 32+len(row.Doc))
	v.Uint(uint64(row.What))
	v.Blob(row.Doc)
	v.Text(row.Note)
	v.Text(string(row.Lot.Product))
	v.Text(row.Lot.Number)
	v.Int(row.Pieces)
	v.Uint(row.Struck)
	key := rowcode.AppendNumber(rowcode.AppendTime(orderKey(id), e.Happened), e.Seq)
	if err := w.Put(ixOrderLog, key, v.Bytes()); err != nil {
		return err
	}
	if err := noteOrderAs(w, id, row); err != nil {
		return err
	}
	return listOrder(w, id)
}

// noteOrderAs notes that an order is about a product that is known by a number
// only.
func noteOrderAs(w Writer, id OrderID, row orderRow) error {
	about := []ProductID{row.Lot.Product}
	if row.What == orderVersion {
		var o Order
		if err := json.Unmarshal(row.Doc, &o); err != nil {
			return err
		}
		for _, l := range o.Lines {
			about = append(about, l.Product)
		}
	}
	for _, p := range about {
		if p.Provisional() {
			if err := w.Put(ixOrderAs, rowcode.AppendText(nil, string(p), string(id)), nil); err != nil {
				return err
			}
		}
	}
	return nil
}

// scanOrder calls fn for the rows of an order's log in the order in which they
// happened.
func scanOrder(r Reader, id OrderID, fn func(*orderRow) error) error {
	return r.Scan(ixOrderLog, orderKey(id), nil, func(key, value []byte) error {
		k := rowcode.ReadKey(key)
		k.Text()
		var row orderRow
		row.at, row.entry = k.Time(), k.Number()
		if err := k.Err(); err != nil {
			return err
		}
		d := rowcode.NewDec(1, value)
		row.What = orderWhat(d.Uint())
		row.Doc = d.Blob()
		row.Note = d.Text()
		row.Lot = Lot{ProductID(d.Text()), d.Text()}
		row.Pieces = d.Int()
		row.Struck = d.Uint()
		if err := d.Err(); err != nil {
			return err
		}
		return fn(&row)
	})
}

// check says whether an order can be recorded; its lines are resolved already.
func (o *Order) check() error {
	switch {
	case strings.TrimSpace(string(o.ID)) == "" || !rowcode.Valid(string(o.ID)) || len(o.ID) > 64:
		return Invalid("number", "Give the order's number, at most 64 bytes.", "%q can't be an order's number", o.ID)
	case strings.TrimSpace(o.Supplier) == "":
		return Invalid("supplier", "Name the supplier.", "order %s is not said to be of anybody", o.ID)
	case len(o.Lines) == 0:
		return Invalid("lines", "Give what is ordered, or cancel the order.", "order %s has no lines", o.ID)
	}
	if o.Expected != "" {
		if _, err := ParseDate(string(o.Expected)); err != nil {
			return Invalid("expected", "Give dates as 2027-03-31.", "%v", err)
		}
	}
	seen := map[ProductID]bool{}
	for _, l := range o.Lines {
		if seen[l.Product] {
			return Invalid("lines", "Give each product once, with all that is ordered of it.", "order %s has product %s twice", o.ID, l.Product)
		}
		seen[l.Product] = true
	}
	return nil
}
