package trace

import (
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// A tankEvent is a batch poured into a tank, or, without a batch, that the tank
// was emptied.
type tankEvent struct {
	at     time.Time
	entry  uint64
	batch  BatchID
	poured Poured
}

func tankEventKey(t TankID, e journal.Entry) []byte {
	return rowcode.AppendNumber(rowcode.AppendTime(rowcode.AppendText(nil, string(t)), e.Happened), e.Seq)
}

func putTankEvent(w inventory.Writer, t TankID, e journal.Entry, ev tankEvent) error {
	v := rowcode.NewEnc(1, 32)
	v.Text(string(ev.batch))
	v.Text(string(ev.poured))
	return w.Put(ixTankEvent, tankEventKey(t, e), v.Bytes())
}

// tankEvents returns what happened to a tank, in order.
func tankEvents(r inventory.Reader, t TankID) (list []tankEvent, err error) {
	err = r.Scan(ixTankEvent, rowcode.AppendText(nil, string(t)), nil, func(key, row []byte) error {
		k := rowcode.ReadKey(key)
		k.Text()
		ev := tankEvent{at: k.Time(), entry: k.Number()}
		if err := k.Err(); err != nil {
			return err
		}
		d := rowcode.NewDec(1, row)
		ev.batch, ev.poured = BatchID(d.Text()), Poured(d.Text())
		list = append(list, ev)
		return d.Err()
	})
	return list, err
}

// A layer is a batch in a tank: from when it was poured until the tank was
// emptied, zero if that is not on record. From doubt on nobody said whether it
// was still in it, zero if it surely was.
type layer struct {
	batch           BatchID
	from, to, doubt time.Time
	// by are the entries that say so: that emptied the tank, and that poured
	// something onto it without a word on what it held.
	by []uint64
}

// layersOf works out what a tank held when. A batch that is poured onto the
// rest of an older one does not end it: both feed. Where nobody said whether
// the tank was empty, the older ones may still have been in it.
func layersOf(events []tankEvent) []layer {
	var list []layer
	first := 0 // the first layer that is still in the tank
	for _, ev := range events {
		if ev.batch == "" || ev.poured == IntoEmpty {
			for i := first; i < len(list); i++ {
				list[i].to, list[i].by = ev.at, append(list[i].by, ev.entry)
			}
			first = len(list)
		}
		if ev.batch == "" {
			continue
		}
		if ev.poured == "" {
			for i := first; i < len(list); i++ {
				if list[i].doubt.IsZero() {
					list[i].doubt, list[i].by = ev.at, append(list[i].by, ev.entry)
				}
			}
		}
		list = append(list, layer{batch: ev.batch, from: ev.at})
	}
	return list
}

// meets reports whether the batch was, or may have been, in the tank at any
// time in [from, to].
func (l *layer) meets(from, to time.Time) bool {
	return !l.from.After(to) && (l.to.IsZero() || !l.to.Before(from))
}

// throughout reports whether it surely was in the tank all of that time.
func (l *layer) throughout(from, to time.Time) bool {
	return !l.from.After(from) && (l.to.IsZero() || !l.to.Before(to)) && (l.doubt.IsZero() || !l.doubt.Before(to))
}
