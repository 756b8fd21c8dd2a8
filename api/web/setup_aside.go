package web

import (
	"errors"
	"strings"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// asideSearched is how many entries after a treatment's opening are looked at
// for packs set aside: what a unit writes in some days.
const asideSearched = 5000

// aside lists the packs that were stopped and set aside. No index holds them,
// so the journal is read from the opening on, at most some hours past the end.
func (b *setupBuilder) aside() error {
	for seq := b.t.Opened + 1; seq < b.t.Opened+asideSearched; seq++ {
		e, err := b.r.Entry(seq)
		if errors.Is(err, inventory.ErrNoEntry) {
			return nil
		}
		if err != nil {
			return err
		}
		if b.t.Closed && e.Recorded.After(b.t.End.Add(12*time.Hour)) {
			return nil
		}
		if e.Kind != (*trace.SetAside)(nil).Kind() {
			continue
		}
		ev, err := b.p.event(b.r, seq)
		if err != nil {
			return err
		}
		a, ok := ev.(*trace.SetAside)
		if !ok || a.Treatment != b.t.ID {
			continue
		}
		stopped, err := b.p.event(b.r, a.Answers)
		if err != nil {
			return err
		}
		s, ok := stopped.(*trace.ScanStopped)
		if !ok {
			continue
		}
		row := asideRow{Lot: s.Lot, By: b.who(e.Actor), When: b.k.near(e.Happened, b.t.Start)}
		if row.Product, err = b.productName(s.Product); err != nil {
			return err
		}
		var why []string
		for _, f := range s.Findings {
			if f.Level == inventory.Stop {
				why = append(why, findingTitle(f.Code))
			}
		}
		row.Why, row.Twice = strings.Join(why, ", "), a.Reason == reasonTwice
		b.page.Aside = append(b.page.Aside, row)
	}
	return nil
}
