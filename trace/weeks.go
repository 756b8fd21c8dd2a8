package trace

import (
	"context"
	"time"

	"lotbook/inventory"
)

// shiftsOf returns the numbers of the unit's first and last shift of a day.
func (b *Book) shiftsOf(ctx context.Context) (first, last int, err error) {
	err = b.View(ctx, func(r inventory.Reader) error {
		u, err := b.Unit(r)
		if err != nil {
			return err
		}
		first, last = u.Shifts[0].Number, u.Shifts[len(u.Shifts)-1].Number
		return nil
	})
	return first, last, err
}

// WholeDays returns the span from the first shift of a day to the last of
// another.
func (b *Book) WholeDays(ctx context.Context, from, to inventory.Date) (Span, error) {
	first, last, err := b.shiftsOf(ctx)
	return Span{From: inventory.Shift{Date: from, Number: first}, To: inventory.Shift{Date: to, Number: last}}, err
}

// mostWeeks is how many weeks can be asked for at a time.
const mostWeeks = 520

// ReconcileWeeks compares weeks, Monday to Sunday, the last of them the one that
// holds a date, each in a snapshot of its own. Of the Span the product and the
// location count.
func (b *Book) ReconcileWeeks(ctx context.Context, until inventory.Date, weeks int, s Span) ([]*Reconciliation, error) {
	if weeks < 1 || weeks > mostWeeks {
		return nil, inventory.Invalid("weeks", "Ask for 1 to 520 weeks.", "%d weeks", weeks)
	}
	day, err := time.Parse(time.DateOnly, string(until))
	if err != nil {
		return nil, inventory.Invalid("date", "Give the date as 2027-03-31.", "%q is not a date", until)
	}
	monday := until.AddDays(-(int(day.Weekday()) + 6) % 7)
	var recs []*Reconciliation
	for i := weeks - 1; i >= 0; i-- {
		from := monday.AddDays(-7 * i)
		week, err := b.WholeDays(ctx, from, from.AddDays(6))
		if err != nil {
			return nil, err
		}
		week.Product, week.Location = s.Product, s.Location
		rec, err := b.ReconcileSpan(ctx, week)
		if err != nil {
			return nil, err
		}
		recs = append(recs, rec)
	}
	return recs, nil
}
