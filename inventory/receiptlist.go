package inventory

import (
	"context"
	"time"
)

// An ArrivalRow is a row of a list of receipts: pieces that were taken in, or
// that were refused.
type ArrivalRow struct {
	Received
	// Refused is why they went back at once; empty if they were taken in.
	Refused string
	// At is when they came; zero means when the call happened.
	At time.Time
}

// ArrivalRules are how a list of receipts is taken.
type ArrivalRules struct {
	// Again takes a row though the same was received before.
	Again bool
	// After is the journal's last entry from before the list was begun: what
	// later entries received is of the same list, and no repetition.
	After uint64
}

// ReceiveList records rows of a list of receipts, all or none.
func (b *Book) ReceiveList(ctx context.Context, call Call, rules ArrivalRules, rows ...ArrivalRow) (Receipt, error) {
	return b.Record(ctx, call, rows, func(r Reader) ([]Event, error) {
		evs := make([]Event, len(rows))
		return evs, EachLine(len(rows), func(i int) error {
			row := rows[i]
			at := call
			if !row.At.IsZero() {
				at.Happened = row.At
			}
			if err := b.checkTime(at.Happened); err != nil {
				return err
			}
			v := row.Received
			if row.Refused != "" {
				ev := &Refused{Stock: v.Stock, Cause: row.Refused, Supplier: v.Supplier, Order: v.Order, Papers: v.Papers}
				evs[i] = Dated{ev, at.Happened}
				return b.stock(r, at, &ev.Stock, "", "")
			}
			v.Again = v.Again || rules.Again
			evs[i] = Dated{&v, at.Happened}
			if err := b.receivable(r, at, &v, rules.After); err != nil || rules.Again {
				return err
			}
			if row.At.IsZero() {
				return b.notReceived(r, &v, b.now().AddDate(0, 0, -repeatDays), b.now(), rules.After)
			}
			return b.notReceived(r, &v, row.At.Add(-sameDelivery/2), row.At.Add(sameDelivery/2), rules.After)
		})
	})
}
