package inventory

import (
	"bytes"
	"fmt"
	"time"

	"lotbook/inventory/rowcode"
)

// A Class says what a movement did to the pieces of a lot.
type Class byte

// The classes. Their numbers are stored.
const (
	ClassReceived  Class = iota + 1 // came from a supplier
	ClassBorrowed                   // came from another unit
	ClassMoved                      // from one location to another
	ClassUsed                       // used, in a treatment or for a shift
	ClassWasted                     // thrown away unused
	ClassReturned                   // went back to the supplier
	ClassDestroyed                  // destroyed, with a witness
	ClassLent                       // went to another unit
	ClassCounted                    // found by a count: Quantity is what was there
)

var classNames = map[Class]string{
	ClassReceived: "received", ClassBorrowed: "transferred in", ClassMoved: "moved",
	ClassUsed: "used", ClassWasted: "wasted", ClassReturned: "returned",
	ClassDestroyed: "destroyed", ClassLent: "transferred out", ClassCounted: "counted",
}

// String returns the class in words.
func (c Class) String() string {
	if s, ok := classNames[c]; ok {
		return s
	}
	return fmt.Sprintf("class %d", byte(c))
}

// MarshalText makes a Class a word in JSON.
func (c Class) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// A Movement is one line of a lot's ledger: pieces that came, went, were used,
// or were found by a count.
type Movement struct {
	Class Class `json:"class"`
	Lot   Lot   `json:"lot"`
	// From and To are locations; empty on the side where the pieces enter
	// or leave the book. A count has To. What is lent or borrowed may have
	// the location that stands for the other unit on its side.
	From LocationID `json:"from,omitempty"`
	To   LocationID `json:"to,omitempty"`
	// Quantity in base units, never negative. A use may have 0: something
	// from a piece that was opened before.
	Quantity int64 `json:"quantity"`
	// Cause is why: of a waste, a return, a difference.
	Cause string `json:"cause,omitempty"`
	// Other is the supplier or the other unit.
	Other string `json:"other,omitempty"`
	// As is the provisional id under which it was recorded, where the lot is
	// one of a product that has that number by now. A count has none: what it
	// found under several ids is one line.
	As ProductID `json:"recorded_as,omitempty"`

	// The entry that wrote it.
	Entry    uint64    `json:"entry"`
	Happened time.Time `json:"happened"`
	Actor    string    `json:"actor"`
	// Struck is the number of the correction that struck the entry out, 0
	// if it stands.
	Struck uint64 `json:"struck,omitempty"`
	// Cover belongs to the package that wrote the entry: what an answer
	// about the lot needs to say about this line.
	Cover []byte `json:"-"`
}

func (m *Movement) ledgerKey() []byte {
	return rowcode.AppendNumber(rowcode.AppendTime(m.Lot.key(), m.Happened), m.Entry)
}

func (m *Movement) ledgerRow() []byte {
	v := rowcode.NewEnc(1, 64+len(m.Cover))
	v.Uint(uint64(m.Class))
	v.Text(string(m.From))
	v.Text(string(m.To))
	v.Int(m.Quantity)
	v.Text(m.Cause)
	v.Text(m.Other)
	v.Text(m.Actor)
	v.Uint(m.Struck)
	v.Blob(m.Cover)
	v.Text(string(m.As))
	return v.Bytes()
}

func decodeLedger(key, row []byte) (Movement, error) {
	k := rowcode.ReadKey(key)
	return readLedger(lotFromKey(k), k, row)
}

// readLedger decodes a row of a lot's ledger from what its key holds behind the
// lot.
func readLedger(l Lot, k *rowcode.Key, row []byte) (Movement, error) {
	m := Movement{Lot: l, Happened: k.Time(), Entry: k.Number()}
	if err := k.Err(); err != nil {
		return m, fmt.Errorf("ledger key: %w", err)
	}
	d := rowcode.NewTextDec(1, row)
	m.Class = Class(d.Uint())
	m.From = LocationID(d.Text())
	m.To = LocationID(d.Text())
	m.Quantity = d.Int()
	m.Cause = d.Text()
	m.Other = d.Text()
	m.Actor = d.Text()
	m.Struck = d.Uint()
	m.Cover = d.Blob()
	m.As = ProductID(d.Text())
	if err := d.Err(); err != nil {
		return m, fmt.Errorf("ledger row of entry %d: %w", m.Entry, err)
	}
	return m, nil
}

// ScanLedger calls fn for the movements of a lot in the order in which they
// happened, those struck out too. The Movement's Cover is valid until fn
// returns. It costs what it lists, not what the journal holds.
func ScanLedger(r Reader, l Lot, fn func(*Movement) error) error {
	prefix := l.key()
	return r.Scan(ixLedger, prefix, nil, func(key, row []byte) error {
		m, err := readLedger(l, rowcode.ReadKey(key[len(prefix):]), row)
		if err != nil {
			return err
		}
		return fn(&m)
	})
}

// LedgerPage calls fn for at most limit movements of a lot from a place in the
// ledger on, nil for its start, and returns the place where to go on, nil at
// the end. The Movement is valid until fn returns. It lets a long answer be read through many short snapshots.
func LedgerPage(r Reader, l Lot, from []byte, limit int, fn func(*Movement) error) (next []byte, err error) {
	n := 0
	prefix := l.key()
	var m Movement
	err = r.Scan(ixLedger, prefix, from, func(key, row []byte) error {
		if n == limit {
			next = bytes.Clone(key)
			return ErrStop
		}
		n++
		if m, err = readLedger(l, rowcode.ReadKey(key[len(prefix):]), row); err != nil {
			return err
		}
		return fn(&m)
	})
	return next, err
}

// A PlaceMovement is a movement as one location sees it.
type PlaceMovement struct {
	Lot      Lot
	Happened time.Time
	Entry    uint64
	Class    Class
	// Delta is what it added, negative for what went; for a count it is 0
	// and Counted is what was found.
	Delta   int64
	Counted int64
	Struck  uint64
}

func placeKey(loc LocationID, m *Movement) []byte {
	b := rowcode.AppendText(nil, string(loc), string(m.Lot.Product))
	b = rowcode.AppendNumber(rowcode.AppendTime(b, m.Happened), m.Entry)
	return rowcode.AppendText(b, m.Lot.Number)
}

func putPlace(w Writer, loc LocationID, m *Movement, delta int64) error {
	v := rowcode.NewEnc(1, 16)
	v.Uint(uint64(m.Class))
	v.Int(delta)
	v.Uint(m.Struck)
	return w.Put(ixPlace, placeKey(loc, m), v.Bytes())
}

func decodePlace(key, row []byte) (PlaceMovement, error) {
	k := rowcode.ReadKey(key)
	k.Text()
	p := PlaceMovement{Lot: Lot{Product: ProductID(k.Text())}, Happened: k.Time(), Entry: k.Number()}
	p.Lot.Number = k.Text()
	if err := k.Err(); err != nil {
		return p, fmt.Errorf("place key: %w", err)
	}
	d := rowcode.NewDec(1, row)
	p.Class = Class(d.Uint())
	p.Delta = d.Int()
	p.Struck = d.Uint()
	if p.Class == ClassCounted {
		p.Counted, p.Delta = p.Delta, 0
	}
	return p, d.Err()
}

// ScanPlace calls fn for the movements of a product at a location that
// happened in [from, to), in order, those struck out too.
func ScanPlace(r Reader, loc LocationID, p ProductID, from, to time.Time, fn func(*PlaceMovement) error) error {
	prefix := rowcode.AppendText(nil, string(loc), string(p))
	start := rowcode.AppendTime(prefix[:len(prefix):len(prefix)], from)
	return r.Scan(ixPlace, prefix, start, func(key, row []byte) error {
		m, err := decodePlace(key, row)
		if err != nil {
			return err
		}
		if !m.Happened.Before(to) {
			return ErrStop
		}
		return fn(&m)
	})
}

// ScanPlaceBack calls fn for the movements of a product at a location that
// happened before an instant, the latest first.
func ScanPlaceBack(r Reader, loc LocationID, p ProductID, before time.Time, fn func(*PlaceMovement) error) error {
	prefix := rowcode.AppendText(nil, string(loc), string(p))
	start := rowcode.AppendTime(prefix[:len(prefix):len(prefix)], before)
	return r.ScanBack(ixPlace, prefix, start, func(key, row []byte) error {
		m, err := decodePlace(key, row)
		if err != nil {
			return err
		}
		return fn(&m)
	})
}
