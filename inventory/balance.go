package inventory

import (
	"fmt"
	"math"
	"time"

	"lotbook/inventory/rowcode"
)

// A balance is what a location holds of a lot: the last count that found
// something out, plus what moved after it. The order of recording plays no
// part. A use of yesterday afternoon that is written down today lies before
// last evening's count and changes nothing that the count had seen; it changes
// only how much of that count's difference is explained.
type balance struct {
	quantity int64
	// anchor is the last count, by (time, entry); latest is the last thing
	// of any class.
	anchor, latest moment
}

// A moment orders what happened: by time, and at the same time by entry.
type moment struct {
	at    time.Time
	entry uint64
}

func (a moment) before(b moment) bool {
	if !a.at.Equal(b.at) {
		return a.at.Before(b.at)
	}
	return a.entry < b.entry
}

func (m *Movement) moment() moment { return moment{m.Happened, m.Entry} }

func balanceKey(loc LocationID, l Lot) []byte {
	return rowcode.AppendText(nil, string(loc), string(l.Product), l.Number)
}

func getBalance(r Reader, key []byte) (balance, error) {
	row, err := r.Get(ixBalance, key)
	if err != nil || row == nil {
		return balance{}, err
	}
	d := rowcode.NewDec(1, row)
	b := balance{
		quantity: d.Int(),
		anchor:   moment{d.Time(), d.Uint()},
		latest:   moment{d.Time(), d.Uint()},
	}
	if err := d.Err(); err != nil {
		return b, fmt.Errorf("balance row: %w", err)
	}
	return b, nil
}

func putBalance(w Writer, key []byte, was, b balance) error {
	switch {
	case was.quantity == 0 && b.quantity != 0:
		if err := w.Put(ixOnHand, key, nil); err != nil {
			return err
		}
	case was.quantity != 0 && b.quantity == 0:
		if err := w.Delete(ixOnHand, key); err != nil {
			return err
		}
	}
	v := rowcode.NewEnc(1, 48)
	v.Int(b.quantity)
	v.Time(b.anchor.at)
	v.Uint(b.anchor.entry)
	v.Time(b.latest.at)
	v.Uint(b.latest.entry)
	return w.Put(ixBalance, key, v.Bytes())
}

// moveBalance adds delta, unless a count that happened later has seen its
// effect already. Striking out gives the opposite delta.
func moveBalance(w Writer, loc LocationID, m *Movement, delta int64) error {
	key := balanceKey(loc, m.Lot)
	was, err := getBalance(w, key)
	if err != nil {
		return err
	}
	b := was
	if b.anchor.before(m.moment()) {
		b.quantity += delta
	}
	if b.latest.before(m.moment()) {
		b.latest = m.moment()
	}
	return putBalance(w, key, was, b)
}

// anchorBalance takes in a count.
func anchorBalance(w Writer, loc LocationID, m *Movement) error {
	key := balanceKey(loc, m.Lot)
	was, err := getBalance(w, key)
	if err != nil {
		return err
	}
	if m.moment().before(was.latest) {
		// Recorded late: something that happened after it is in already.
		return recomputeBalance(w, loc, m.Lot)
	}
	return putBalance(w, key, was, balance{quantity: m.Quantity, anchor: m.moment(), latest: m.moment()})
}

// endOfTime is after all that can happen.
var endOfTime = moment{rowcode.MaxTime, math.MaxUint64}

// recomputeBalance makes a balance anew from what the place had when a week
// began and the last count that stands.
func recomputeBalance(w Writer, loc LocationID, l Lot) error {
	key := balanceKey(loc, l)
	was, err := getBalance(w, key)
	if err != nil {
		return err
	}
	b := balance{latest: was.latest}
	if b.anchor, err = countBefore(w, loc, l, endOfTime); err != nil {
		return err
	}
	if b.latest.before(b.anchor) {
		b.latest = b.anchor
	}
	if b.quantity, err = quantityBefore(w, loc, l, endOfTime); err != nil {
		return err
	}
	return putBalance(w, key, was, b)
}

// balanceBefore returns what a location held of a lot before a moment, by all
// that is known now.
func balanceBefore(r Reader, loc LocationID, l Lot, before moment) (int64, error) {
	b, err := getBalance(r, balanceKey(loc, l))
	if err != nil || b.latest.before(before) {
		return b.quantity, err
	}
	return quantityBefore(r, loc, l, before)
}

// A Balance is how many pieces of a lot the book says are at a location. It
// may be below zero: more was used there than anyone wrote down as brought.
type Balance struct {
	Location LocationID `json:"location"`
	Lot      Lot        `json:"lot"`
	Quantity int64      `json:"quantity"`
	// Counted is when the last count there saw the lot, zero if none did.
	Counted time.Time `json:"counted,omitzero"`
}

// BalanceAt returns the balance of a lot at a location.
func BalanceAt(r Reader, loc LocationID, l Lot) (Balance, error) {
	b, err := getBalance(r, balanceKey(loc, l))
	return Balance{loc, l, b.quantity, b.anchor.at}, err
}

// OnHand returns the balances at a location that are not zero, of one product
// or of all (empty), by product and lot.
func OnHand(r Reader, loc LocationID, p ProductID) ([]Balance, error) {
	prefix := rowcode.AppendText(nil, string(loc))
	if p != "" {
		prefix = rowcode.AppendText(prefix, string(p))
	}
	var bs []Balance
	err := r.Scan(ixOnHand, prefix, nil, func(key, _ []byte) error {
		k := rowcode.ReadKey(key)
		k.Text()
		l := lotFromKey(k)
		if err := k.Err(); err != nil {
			return err
		}
		b, err := getBalance(r, key)
		bs = append(bs, Balance{loc, l, b.quantity, b.anchor.at})
		return err
	})
	return bs, err
}
