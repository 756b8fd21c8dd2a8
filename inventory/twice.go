package inventory

import (
	"fmt"
	"time"

	"lotbook/inventory/rowcode"
)

// A delivery's pieces must not be taken in twice: by scanning a label again, by
// scanning a case and then the packs inside, or a pallet's label and then its
// cases, or because two clerks unpack the same delivery.

// sameDelivery is for how long lines without a delivery note's number are taken
// to be of one delivery: common practice, no source.
const sameDelivery = 24 * time.Hour

// A taken is what was taken in before.
type taken struct {
	Received
	entry uint64
	at    time.Time
	level string
}

func (v *delivering) askAgain(c *CheckedLine, a *asked) error {
	if again, err := v.askLabel(c, a); err != nil || again {
		return err
	}
	for _, o := range v.before {
		if o.Quantity == 0 || o.Becomes == Refuse || o.lot() != c.lot() {
			continue
		}
		if mayContain(o.unit, o.Level, c.unit, c.Level) {
			a.ask(AskContained, "%s of lot %s stand on another line of this delivery, and these are scanned at another level. Are they further pieces, or a part of those?", pieces(&o.Stock, o.Holds), c.Lot)
			return nil
		}
		if o.unit == c.unit && o.Serial == c.Serial && o.GTIN == c.GTIN {
			a.ask(AskLineAgain, "Lot %s in the same pack stands on another line of this delivery. If there are several, put them on one line; if it is one label scanned twice, leave this out.", c.Lot)
			return nil
		}
	}
	return v.takenBefore(c, func(t *taken) error {
		if mayContain(t.Unit, t.level, c.unit, c.Level) {
			a.ask(AskContained, "%s of lot %s were received at %s, by entry %d, and these are scanned at another level. Are they further pieces, or a part of those?", pieces(&t.Stock, 0), c.Lot, v.clock(t.at), t.entry)
			return ErrStop
		}
		if t.Unit == c.unit && t.Serial == c.Serial && t.GTIN == c.GTIN && t.Quantity == c.Quantity {
			a.ask(AskLineAgain, "%s of lot %s in the same pack were received at %s, by entry %d. Are these further ones?", pieces(&t.Stock, 0), c.Lot, v.clock(t.at), t.entry)
			return ErrStop
		}
		return nil
	})
}

// askLabel asks about a label that is the only one of its kind, and reports
// whether it did.
func (v *delivering) askLabel(c *CheckedLine, a *asked) (bool, error) {
	now := Received{Stock: c.Stock, Papers: Papers{Unit: c.unit}}
	for _, label := range now.labels() {
		seq, err := receivedWith(v.r, label)
		if err != nil {
			return false, err
		}
		if seq != 0 {
			e, err := v.r.Entry(seq)
			if err != nil {
				return false, err
			}
			a.ask(AskLabelAgain, "This very label (%s) was received on %s, by entry %d. No two packs have the same.", labelWords(&now), v.clock(e.Happened), seq)
			return true, nil
		}
		for _, o := range v.before {
			other := Received{Stock: o.Stock, Papers: Papers{Unit: o.unit}}
			for _, l := range other.labels() {
				if l == label {
					a.ask(AskLabelAgain, "This very label (%s) stands on another line of this delivery. No two packs have the same.", labelWords(&now))
					return true, nil
				}
			}
		}
	}
	return false, nil
}

func labelWords(v *Received) string {
	if v.Unit != "" {
		return "SSCC " + v.Unit
	}
	return "serial " + v.Serial
}

// mayContain reports whether what was scanned at one level may be a part of
// what was scanned at another.
func mayContain(unit, level, otherUnit, otherLevel string) bool {
	if (unit == "") != (otherUnit == "") {
		return true
	}
	return level != "" && otherLevel != "" && level != otherLevel
}

// takenBefore calls fn for the lines of the same delivery and lot that are on
// record.
func (v *delivering) takenBefore(c *CheckedLine, fn func(*taken) error) error {
	since := v.at.Add(-sameDelivery)
	if v.d.Number != "" {
		since = v.at.AddDate(0, 0, -repeatDays)
	}
	key := c.lot().key()
	start := rowcode.AppendTime(key[:len(key):len(key)], since)
	return v.r.Scan(ixLedger, key, start, func(key, row []byte) error {
		m, err := decodeLedger(key, row)
		if err != nil || m.Class != ClassReceived || m.Struck != 0 || m.Happened.After(v.at.Add(sameDelivery)) {
			return err
		}
		e, err := v.r.Entry(m.Entry)
		if err != nil {
			return err
		}
		ev, err := v.book.reg.Decode(e)
		if err != nil {
			return err
		}
		old, ok := ev.(*Received)
		if !ok || !v.same(old, m.Happened) {
			return nil
		}
		_, pack, err := v.book.packOf(v.r, &old.Stock)
		if err != nil {
			return err
		}
		return fn(&taken{*old, m.Entry, m.Happened, pack.Level})
	})
}

// same reports whether a line on record is of this delivery.
func (v *delivering) same(old *Received, at time.Time) bool {
	if old.Delivery != "" && v.d.Number != "" {
		return old.Delivery == v.d.Number && (old.Supplier == v.d.Supplier || v.d.Supplier == "" || old.Supplier == "")
	}
	return !at.Before(v.at.Add(-sameDelivery))
}

func (v *delivering) clock(t time.Time) string {
	zone, err := v.unit.Zone()
	if err != nil { // not so: checked at the start
		zone = time.UTC
	}
	return t.In(zone).Format("2006-01-02 15:04")
}

// pieces writes a quantity as packs × what one holds.
func pieces(s *Stock, holds int64) string {
	if s.Packs > 0 && holds == 0 && s.Quantity%s.Packs == 0 {
		holds = s.Quantity / s.Packs
	}
	if s.Packs > 0 && holds > 0 {
		return fmt.Sprintf("%d × %d = %d pieces", s.Packs, holds, s.Quantity)
	}
	return fmt.Sprintf("%d pieces", s.Quantity)
}

// notTwice refuses a label that was received before, unless somebody says that
// these are further pieces. Entries past after, unless it is 0, don't count.
func notTwice(r Reader, v *Received, after uint64) error {
	if v.Again {
		return nil
	}
	for _, label := range v.labels() {
		seq, err := receivedWith(r, label)
		if err != nil {
			return err
		}
		if seq != 0 && (after == 0 || seq <= after) {
			return Conflict("label_received_before", "Leave the line out; or, if these are truly further pieces, say again.", "this very label (%s) was received by entry %d", labelWords(v), seq)
		}
	}
	return nil
}
