package notice

import (
	"cmp"
	"context"
	"crypto/rand"
	"fmt"
	"math/big"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// A Drilling asks to begin a drill on a lot; without one it is drawn by chance
// among the lots of which a use is on record, of the product if one is given.
type Drilling struct {
	Product inventory.ProductID `json:"product,omitempty"`
	Lot     string              `json:"lot,omitempty"`
	Note    string              `json:"note,omitempty"`
}

// BeginDrill begins a drill. The receipt's one entry is a DrillBegun.
func (b *Book) BeginDrill(ctx context.Context, call inventory.Call, q Drilling) (inventory.Receipt, error) {
	v := DrillBegun{Product: q.Product, Lot: q.Lot, Note: q.Note}
	if err := b.View(ctx, func(r inventory.Reader) error { return b.draw(r, &v) }); err != nil {
		return inventory.Receipt{}, err
	}
	return b.Record(ctx, call, q, func(r inventory.Reader) ([]inventory.Event, error) {
		begun := v
		begun.Drill = DrillID(fmt.Sprintf("D%06d", r.Head().Seq+1))
		return []inventory.Event{&begun}, nil
	})
}

// draw completes what the drill is on.
func (b *Book) draw(r inventory.Reader, v *DrillBegun) (err error) {
	if v.Product, err = b.resolve(r, v.Product); err != nil {
		return err
	}
	if v.Lot != "" {
		if v.Product == "" {
			return inventory.Invalid("product", "Name the product of the lot.", "there is a lot and no product")
		}
		_, ok, err := inventory.LotFactsOf(r, inventory.Lot{Product: v.Product, Number: v.Lot})
		if err == nil && !ok {
			err = inventory.NotFound("lot", v.Lot, "Choose a lot on record, or leave it out to draw one.")
		}
		return err
	}
	products, err := b.Products(r)
	if err != nil {
		return err
	}
	var pool []inventory.Lot
	for _, p := range products {
		if v.Product != "" && p.ID != v.Product {
			continue
		}
		lots, err := inventory.LotsOf(r, p.ID)
		if err != nil {
			return err
		}
		for _, f := range lots {
			used, err := wasUsed(r, f.Lot)
			if err != nil {
				return err
			}
			if used {
				pool = append(pool, f.Lot)
			}
		}
	}
	if len(pool) == 0 {
		return inventory.Conflict("no_lot", "Name a lot, or wait until one was used.", "there is no lot with a use on record to draw from")
	}
	n, err := rand.Int(rand.Reader, big.NewInt(int64(len(pool))))
	if err != nil {
		return err
	}
	l := pool[n.Int64()]
	v.Product, v.Lot, v.Among = l.Product, l.Number, len(pool)
	return nil
}

func wasUsed(r inventory.Reader, l inventory.Lot) (used bool, err error) {
	if l.Number == "" {
		return false, nil
	}
	err = inventory.ScanLedger(r, l, func(m *inventory.Movement) error {
		if m.Class == inventory.ClassUsed && m.Struck == 0 {
			used = true
			return inventory.ErrStop
		}
		return nil
	})
	return used, err
}

// A Drilled asks to end a drill. Shelf says what was found where, if somebody
// looked; Searched with an empty Shelf says that nothing was found anywhere.
type Drilled struct {
	Drill    DrillID      `json:"drill"`
	Searched bool         `json:"searched,omitempty"`
	Shelf    []FoundThere `json:"shelf,omitempty"`
	// HeldUp is what people say held the answer up.
	HeldUp []string `json:"held_up,omitempty"`
}

// A FoundThere is how many pieces of the lot were found at a place.
type FoundThere struct {
	Location inventory.LocationID `json:"location"`
	Pieces   int64                `json:"pieces"`
}

// EndDrill ends a drill: it answers who met the lot, from the record as it is
// then. The receipt's one entry is a DrillEnded.
func (b *Book) EndDrill(ctx context.Context, call inventory.Call, q Drilled) (inventory.Receipt, error) {
	var d *Drill
	err := b.View(ctx, func(r inventory.Reader) (err error) {
		if d, err = DrillByID(r, q.Drill); err != nil {
			return err
		}
		return inventory.EachLine(len(q.Shelf), func(i int) error {
			if q.Shelf[i].Pieces < 0 {
				return inventory.Invalid("pieces", "Give the number of pieces found.", "%d pieces", q.Shelf[i].Pieces)
			}
			_, err := inventory.LocationByID(r, q.Shelf[i].Location)
			return err
		})
	})
	if err != nil {
		return inventory.Receipt{}, err
	}
	a, err := b.Exposures(ctx, trace.Question{Product: string(d.Product), Lot: d.Lot})
	if err != nil {
		return inventory.Receipt{}, err
	}
	return b.Record(ctx, call, q, func(r inventory.Reader) ([]inventory.Event, error) {
		d, err := DrillByID(r, q.Drill)
		if err != nil {
			return nil, err
		}
		if d.Ended != nil {
			return nil, inventory.Conflict("ended", "Begin another one.", "drill %s was ended by %s", d.Drill, d.Ended.By)
		}
		res := drillResult(a, &q)
		res.Seconds = int64(b.Now().Sub(d.At).Seconds())
		return []inventory.Event{&DrillEnded{q.Drill, res}}, nil
	})
}

// drillResult works out what a drill came to.
func drillResult(a *trace.LotAnswer, q *Drilled) DrillResult {
	res := DrillResult{Mass: a.Mass, Counts: a.Counts, Gaps: a.Gaps, Head: a.AsOf, Searched: q.Searched || len(q.Shelf) > 0, HeldUp: []string{}}
	say := func(format string, args ...any) { res.HeldUp = append(res.HeldUp, fmt.Sprintf(format, args...)) }
	in := a.Mass.In()
	off := max(a.Mass.Unaccounted, -a.Mass.Unaccounted)
	res.Recorded = thousandths(in-off, in)
	if in == 0 {
		say("No receipt of the lot is on record: its pieces can't be accounted for.")
	}
	if a.Gaps > 0 {
		say("%s nothing of this kind on record by lot in the time when the lot was here.", plural(a.Gaps, "treatment has", "treatments have"))
	}
	for _, d := range a.Differences {
		say("A count at %s on %s found %d where the book had %d.", d.Location, d.At.Format(time.DateOnly), d.Counted, d.Book)
	}
	if len(a.Similar) > 0 {
		say("%s almost the same.", plural(len(a.Similar), "lot on record reads", "lots on record read"))
	}
	if res.Searched {
		res.search(a, q, say)
	} else if n := a.Mass.OnHand + a.Mass.Held; n > 0 {
		say("Nobody looked for the %s that the book has on the shelf.", plural(int(n), "piece", "pieces"))
	}
	res.HeldUp = append(res.HeldUp, q.HeldUp...)
	return res
}

// search compares what was found with the book.
func (res *DrillResult) search(a *trace.LotAnswer, q *Drilled, say func(string, ...any)) {
	at := map[inventory.LocationID]*Shelf{}
	place := func(id inventory.LocationID) *Shelf {
		if at[id] == nil {
			at[id] = &Shelf{Location: id}
		}
		return at[id]
	}
	for _, x := range a.Left {
		place(x.Location).Book += x.Quantity
	}
	for _, f := range q.Shelf {
		place(f.Location).Found += f.Pieces
	}
	res.Shelf = sorted(at, func(x, y *Shelf) int { return cmp.Compare(x.Location, y.Location) })
	var missing int64
	for _, s := range res.Shelf {
		missing += max(s.Book-s.Found, s.Found-s.Book)
		if s.Book != s.Found {
			say("At %s the book has %d and %d were found.", s.Location, s.Book, s.Found)
		}
	}
	in := a.Mass.In()
	res.Found = thousandths(in-max(a.Mass.Unaccounted, -a.Mass.Unaccounted)-missing, in)
}

// thousandths is a share, 0 to 1000; of nothing it is 0.
func thousandths(part, whole int64) int64 {
	if whole <= 0 {
		return 0
	}
	return min(max(part*1000/whole, 0), 1000)
}
