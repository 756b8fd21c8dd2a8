package inventory

import (
	"errors"

	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// Papers are what a delivery's line came with. All of it may be empty: a
// delivery may come without papers.
type Papers struct {
	// Delivery is the number of the delivery note.
	Delivery string `json:"delivery,omitempty"`
	// Unit is the logistic unit's SSCC, 18 digits, if its label was scanned.
	Unit string `json:"logistic_unit,omitempty"`
	// Answers are what a person said to the questions that were asked.
	Answers []Answered `json:"answers,omitempty"`
}

// An Answered is the answer to a question about a delivery's line.
type Answered struct {
	Question string `json:"question"`
	Answer   string `json:"answer"`
	Why      string `json:"why,omitempty"`
}

// Received takes a delivery's pieces into a location.
type Received struct {
	Stock
	To       LocationID `json:"to"`
	Supplier string     `json:"supplier,omitempty"`
	Order    string     `json:"order,omitempty"`
	Papers
	// Again says that the same label was received before, and that a person
	// said that these are further pieces.
	Again bool `json:"again,omitempty"`
}

// Kind implements Event.
func (*Received) Kind() string { return "stock.received" }

func (v *Received) movement() Movement {
	return Movement{Class: ClassReceived, Lot: v.lot(), To: v.To, Quantity: v.Quantity, Other: v.Supplier}
}

// Project implements Event.
func (v *Received) Project(w Writer, e journal.Entry) error {
	if err := v.post(w, e, v.movement()); err != nil {
		return err
	}
	row := rowcode.NewEnc(1, 32)
	row.Int(v.Quantity)
	row.Text(v.Supplier)
	row.Text(v.Order)
	id, err := Catalogued(w, v.Product)
	if err := errors.Join(
		err,
		w.Put(ixArrival, arrivalKey(id, e), row.Bytes()),
		w.Put(ixReceipt, receiptKey(e), nil),
	); err != nil {
		return err
	}
	for _, l := range v.labels() {
		if err := w.Put(ixLabel, labelKey(l, e.Seq), nil); err != nil {
			return err
		}
	}
	return v.log(w, e, 0)
}

// Void implements Voider.
func (v *Received) Void(w Writer, e, c journal.Entry) error {
	id, err := Catalogued(w, v.Product)
	if err := errors.Join(
		err,
		Strike(w, e, c, v.movement()),
		w.Delete(ixArrival, arrivalKey(id, e)),
		w.Delete(ixReceipt, receiptKey(e)),
	); err != nil {
		return err
	}
	for _, l := range v.labels() {
		if err := w.Delete(ixLabel, labelKey(l, e.Seq)); err != nil {
			return err
		}
	}
	return v.log(w, e, c.Seq)
}

func (v *Received) log(w Writer, e journal.Entry, struck uint64) error {
	return logOrder(w, e, OrderID(v.Order), orderRow{What: orderCame, Lot: v.lot(), Pieces: v.Quantity, Struck: struck})
}

// Lacking says that pieces that were on the delivery note did not come.
type Lacking struct {
	Product ProductID `json:"product"`
	// Noted is what the delivery note says, Came what came, in pieces.
	Noted    int64  `json:"noted"`
	Came     int64  `json:"came"`
	Supplier string `json:"supplier,omitempty"`
	Order    string `json:"order,omitempty"`
	Papers
	// Closed says that they will not come; otherwise they are awaited.
	Closed bool `json:"closed,omitempty"`
}

// Kind implements Event.
func (*Lacking) Kind() string { return "delivery.lacking" }

// Project implements Event.
func (v *Lacking) Project(w Writer, e journal.Entry) error { return v.log(w, e, 0) }

// Void implements Voider.
func (v *Lacking) Void(w Writer, e, c journal.Entry) error { return v.log(w, e, c.Seq) }

func (v *Lacking) log(w Writer, e journal.Entry, struck uint64) error {
	row := orderRow{What: orderAwaited, Lot: Lot{Product: v.Product}, Pieces: v.Noted - v.Came, Struck: struck}
	if v.Closed {
		row.What = orderClosed
	}
	return logOrder(w, e, OrderID(v.Order), row)
}

func arrivalKey(p ProductID, e journal.Entry) []byte {
	return rowcode.AppendNumber(rowcode.AppendTime(rowcode.AppendText(nil, string(p)), e.Happened), e.Seq)
}

func receiptKey(e journal.Entry) []byte {
	return rowcode.AppendNumber(rowcode.AppendTime(nil, e.Happened), e.Seq)
}

// labels are what a line's label is known by again: the SSCC of a logistic unit
// with the lot, since several lots may stand on one pallet; the GTIN and serial
// of a pack. No two units have the same (GS1 General Specifications, 2.2.1 and
// 3.5.2).
func (v *Received) labels() []string {
	var ls []string
	if v.Unit != "" {
		ls = append(ls, "00"+v.Unit+" "+string(v.Product)+" "+v.Lot)
		if id := ProvisionalID(v.GTIN); v.GTIN != "" && id != v.Product {
			// As it was before the catalogue had the GTIN.
			ls = append(ls, "00"+v.Unit+" "+string(id)+" "+v.Lot)
		}
	}
	if v.Serial != "" {
		pack := v.GTIN
		if pack == "" {
			pack = string(v.Product)
		}
		ls = append(ls, "21"+pack+" "+v.Serial)
	}
	return ls
}

func labelKey(label string, seq uint64) []byte {
	return rowcode.AppendNumber(rowcode.AppendText(nil, label), seq)
}

// receivedWith returns the first entry that stands and took in what has a label,
// 0 if none did.
func receivedWith(r Reader, label string) (seq uint64, err error) {
	err = r.Scan(ixLabel, rowcode.AppendText(nil, label), nil, func(key, _ []byte) error {
		k := rowcode.ReadKey(key)
		k.Text()
		seq = k.Number()
		if err := k.Err(); err != nil {
			return err
		}
		return ErrStop
	})
	return seq, err
}
