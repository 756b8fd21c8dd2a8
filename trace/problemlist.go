package trace

import (
	"cmp"
	"context"
	"encoding/json"
	"maps"
	"slices"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// A ProblemLine is what a list of all problems needs of one.
type ProblemLine struct {
	ID        ProblemID           `json:"problem"`
	At        time.Time           `json:"at"`
	Product   inventory.ProductID `json:"product,omitempty"`
	Lot       string              `json:"lot,omitempty"`
	Category  inventory.Category  `json:"category,omitempty"`
	Treatment TreatmentID         `json:"treatment,omitempty"`
}

func (p *Problem) line() ProblemLine {
	return ProblemLine{p.ID, p.At, p.Product, p.Lot, p.Category, p.Treatment}
}

// ScanProblems calls fn for the problems that stand and were seen in [from, to),
// the latest first. A zero time is no bound.
func ScanProblems(r inventory.Reader, from, to time.Time, fn func(*ProblemLine) error) error {
	var start []byte
	if !to.IsZero() {
		start = rowcode.AppendTime(nil, to)
	}
	return r.ScanBack(ixProblemAt, nil, start, func(_, row []byte) error {
		var l ProblemLine
		if err := json.Unmarshal(row, &l); err != nil {
			return err
		}
		if !from.IsZero() && l.At.Before(from) {
			return inventory.ErrStop
		}
		return fn(&l)
	})
}

// A ProblemQuery asks for problems. What is empty does not narrow it.
type ProblemQuery struct {
	// Product is a GTIN of any of its packs, or its id.
	Product  string
	Lot      string
	From, To time.Time
	// Category and Treatment narrow it too.
	Category  inventory.Category
	Treatment TreatmentID
}

// A Together is problems that were seen within a time of each other: of one lot,
// or, where Lot is empty, of a product across its lots.
type Together struct {
	Product inventory.ProductID `json:"product"`
	Name    string              `json:"product_name,omitempty"`
	Lot     string              `json:"lot,omitempty"`
	// Count is how many there are at most within the time, Lots how many lots
	// they name, and Treatments in how many treatments they were seen.
	Count      int         `json:"count"`
	Lots       int         `json:"lots"`
	Treatments int         `json:"treatments"`
	First      time.Time   `json:"first"`
	Last       time.Time   `json:"last"`
	Problems   []ProblemID `json:"problems"`
}

// A ProblemList is the problems that a query asks for, the latest first, and
// those of them that belong together.
type ProblemList struct {
	Problems []ProblemLine `json:"-"`
	// OfLots are brought together by lot, OfProducts by product where they
	// name several lots, or one does not name its lot.
	OfLots     []Together   `json:"of_one_lot"`
	OfProducts []Together   `json:"of_one_product"`
	WithinDays int          `json:"within_days"`
	AtLeast    int          `json:"at_least"`
	AsOf       journal.Head `json:"as_of"`
	At         time.Time    `json:"as_of_time"`
	// WithoutProduct says how many name no product, and so can't be brought
	// together.
	WithoutProduct int `json:"without_product"`
}

// ListProblems answers a query.
func (b *Book) ListProblems(r inventory.Reader, q ProblemQuery) (*ProblemList, error) {
	set, err := ProblemSettingsOf(r)
	if err != nil {
		return nil, err
	}
	out := &ProblemList{OfLots: []Together{}, OfProducts: []Together{}, WithinDays: set.WithinDays, AtLeast: set.AtLeast, AsOf: r.Head(), At: b.Now()}
	var product inventory.ProductID
	if q.Product != "" {
		k, err := b.keysOf(r, Question{Product: q.Product, Lot: "any"})
		if err != nil {
			return nil, err
		}
		product = k.id
	}
	ids := newCanon(b, r)
	byLot, byProduct := map[inventory.Lot][]*ProblemLine{}, map[inventory.ProductID][]*ProblemLine{}
	err = ScanProblems(r, q.From, q.To, func(l *ProblemLine) error {
		id, err := ids.of(l.Product)
		if err != nil {
			return err
		}
		if product != "" && id != product || q.Lot != "" && l.Lot != q.Lot || q.Category != "" && l.Category != q.Category || q.Treatment != "" && l.Treatment != q.Treatment {
			return nil
		}
		l.Product = id
		out.Problems = append(out.Problems, *l)
		if id == "" {
			out.WithoutProduct++
			return nil
		}
		byProduct[id] = append(byProduct[id], l)
		if l.Lot != "" {
			byLot[inventory.Lot{Product: id, Number: l.Lot}] = append(byLot[inventory.Lot{Product: id, Number: l.Lot}], l)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	for _, lot := range slices.SortedFunc(maps.Keys(byLot), func(x, y inventory.Lot) int {
		return cmp.Or(cmp.Compare(x.Product, y.Product), cmp.Compare(x.Number, y.Number))
	}) {
		if t, ok := gather(byLot[lot], set.within(), set.AtLeast); ok {
			t.Product, t.Lot = lot.Product, lot.Number
			out.OfLots = append(out.OfLots, t)
		}
	}
	for _, id := range slices.Sorted(maps.Keys(byProduct)) {
		t, ok := gather(byProduct[id], set.within(), set.AtLeast)
		if !ok || t.Lots == 1 && !slices.ContainsFunc(byProduct[id], func(l *ProblemLine) bool { return l.Lot == "" && slices.Contains(t.Problems, l.ID) }) {
			continue
		}
		t.Product = id
		out.OfProducts = append(out.OfProducts, t)
	}
	for _, list := range [][]Together{out.OfLots, out.OfProducts} {
		for i := range list {
			if list[i].Name, err = b.nameOf(r, list[i].Product); err != nil {
				return nil, err
			}
		}
		slices.SortStableFunc(list, func(x, y Together) int { return cmp.Or(cmp.Compare(y.Count, x.Count), y.Last.Compare(x.Last)) })
	}
	return out, nil
}

func (s *ProblemSettings) within() time.Duration { return time.Duration(s.WithinDays) * 24 * time.Hour }

// gather finds the most problems within a time of each other, the latest of such
// times, in a list whose latest comes first; ok is false if they are too few.
func gather(list []*ProblemLine, within time.Duration, least int) (t Together, ok bool) {
	best, from, to := 0, 0, 0
	end := 0 // behind the last one that is within the time of the one at i
	for i := range list {
		for end < len(list) && list[i].At.Sub(list[end].At) <= within {
			end++
		}
		if end-i > best {
			best, from, to = end-i, i, end
		}
	}
	if best < least {
		return t, false
	}
	t.Count, t.Last, t.First = best, list[from].At, list[to-1].At
	lots, treatments := map[string]bool{}, map[TreatmentID]bool{}
	for _, l := range list[from:to] {
		t.Problems = append(t.Problems, l.ID)
		if l.Lot != "" {
			lots[l.Lot] = true
		}
		if l.Treatment != "" {
			treatments[l.Treatment] = true
		}
	}
	t.Lots, t.Treatments = len(lots), len(treatments)
	return t, true
}

// canon gives a product known by its code only the id that it has in the
// catalogue by now.
type canon struct {
	b    *Book
	r    inventory.Reader
	seen map[inventory.ProductID]inventory.ProductID
}

func newCanon(b *Book, r inventory.Reader) *canon {
	return &canon{b, r, map[inventory.ProductID]inventory.ProductID{}}
}

func (c *canon) of(id inventory.ProductID) (inventory.ProductID, error) {
	if !id.Provisional() {
		return id, nil
	}
	if to, ok := c.seen[id]; ok {
		return to, nil
	}
	var p *inventory.Product
	var err error
	if gtin, ok := id.ProvisionalGTIN(); ok {
		p, _, err = c.b.ProductByGTIN(c.r, gtin)
	} else {
		p, _, err = c.b.ProductByCode(c.r, id)
	}
	to := id
	if p != nil {
		to = p.ID
	}
	c.seen[id] = to
	return to, err
}

// nameOf returns what the catalogue calls a product, empty if it is not in it.
func (b *Book) nameOf(r inventory.Reader, id inventory.ProductID) (string, error) {
	p, err := b.Product(r, id)
	if err != nil || p == nil {
		return "", err
	}
	return p.Name, nil
}

// A ProblemRow is a problem with what its treatment and the catalogue know of it.
type ProblemRow struct {
	*Problem
	Name    string    `json:"product_name,omitempty"`
	Patient PatientID `json:"patient,omitempty"`
	Machine MachineID `json:"machine,omitempty"`
	Station StationID `json:"station,omitempty"`
}

// ProblemRowOf returns a problem as a row.
func (b *Book) ProblemRowOf(r inventory.Reader, id ProblemID) (row ProblemRow, err error) {
	if row.Problem, err = ProblemByID(r, id); err != nil {
		return row, err
	}
	item, err := newCanon(b, r).of(row.Product)
	if err != nil {
		return row, err
	}
	if row.Name, err = b.nameOf(r, item); err != nil || row.Treatment == "" {
		return row, err
	}
	t, err := TreatmentByID(r, row.Treatment)
	if err != nil {
		return row, err
	}
	row.Patient, row.Machine, row.Station = t.Patient, t.Machine, t.Station
	return row, nil
}

// A ProblemTable is an answer to a query with all that is on record of its
// problems, from one snapshot.
type ProblemTable struct {
	List     *ProblemList
	Rows     []ProblemRow
	Settings ProblemSettings
}

// ProblemTable answers a query, with the problems' rows.
func (b *Book) ProblemTable(ctx context.Context, q ProblemQuery) (*ProblemTable, error) {
	out := new(ProblemTable)
	return out, b.View(ctx, func(r inventory.Reader) (err error) {
		*out = ProblemTable{}
		if out.List, err = b.ListProblems(r, q); err != nil {
			return err
		}
		for i := range out.List.Problems {
			row, err := b.ProblemRowOf(r, out.List.Problems[i].ID)
			if err != nil {
				return err
			}
			out.Rows = append(out.Rows, row)
		}
		out.Settings, err = ProblemSettingsOf(r)
		return err
	})
}

// Beside are the problems that were seen within the unit's time of one problem,
// itself among them: of its lot, and of its product.
type Beside struct {
	WithinDays int       `json:"within_days"`
	OfLot      *Together `json:"of_this_lot,omitempty"`
	OfProduct  *Together `json:"of_this_product,omitempty"`
}

// ProblemsBeside returns what stands beside a problem.
func (b *Book) ProblemsBeside(r inventory.Reader, p *Problem) (Beside, error) {
	set, err := ProblemSettingsOf(r)
	out := Beside{WithinDays: set.WithinDays}
	if err != nil || p.Struck != 0 {
		return out, err
	}
	out.OfLot, out.OfProduct, err = b.near(r, inventory.Lot{Product: p.Product, Number: p.Lot}, p.At.Add(-set.within()), p.At.Add(set.within()+1))
	return out, err
}

// KnownProblems are the lots of which several problems were seen lately. It is
// told as something to know, never as a reason to stop: what warns too often is
// worked around.
type KnownProblems struct {
	// Days is within how many days, and Count how many problems there were then
	// in all.
	Days  int
	Count int
	byLot map[inventory.Lot]*Together
	ids   *canon
}

// KnownProblems returns those within the unit's time before an instant. It can be
// asked as long as the snapshot lasts.
func (b *Book) KnownProblems(r inventory.Reader, at time.Time) (*KnownProblems, error) {
	set, err := ProblemSettingsOf(r)
	if err != nil {
		return nil, err
	}
	l, err := b.ListProblems(r, ProblemQuery{From: at.Add(-set.within()), To: at.Add(1)})
	if err != nil {
		return nil, err
	}
	k := &KnownProblems{Days: set.WithinDays, Count: len(l.Problems), byLot: map[inventory.Lot]*Together{}, ids: newCanon(b, r)}
	for i := range l.OfLots {
		g := &l.OfLots[i]
		k.byLot[inventory.Lot{Product: g.Product, Number: g.Lot}] = g
	}
	return k, nil
}

// Lots returns how many lots have several.
func (k *KnownProblems) Lots() int { return len(k.byLot) }

// Of returns the problems of a lot, nil if there are fewer than the unit brings
// together.
func (k *KnownProblems) Of(l inventory.Lot) (*Together, error) {
	id, err := k.ids.of(l.Product)
	return k.byLot[inventory.Lot{Product: id, Number: l.Number}], err
}

// near brings together all that was seen in a time of a lot, and of its product.
func (b *Book) near(r inventory.Reader, l inventory.Lot, from, to time.Time) (ofLot, ofProduct *Together, err error) {
	if l.Product == "" {
		return nil, nil, nil
	}
	ids := newCanon(b, r)
	want, err := ids.of(l.Product)
	if err != nil {
		return nil, nil, err
	}
	var lot, product []*ProblemLine
	err = ScanProblems(r, from, to, func(x *ProblemLine) error {
		id, err := ids.of(x.Product)
		if err != nil || id != want {
			return err
		}
		product = append(product, x)
		if l.Number != "" && x.Lot == l.Number {
			lot = append(lot, x)
		}
		return nil
	})
	if err != nil {
		return nil, nil, err
	}
	name, err := b.nameOf(r, want)
	whole := func(list []*ProblemLine, number string) *Together {
		t, ok := gather(list, to.Sub(from), 1)
		if !ok {
			return nil
		}
		t.Product, t.Name, t.Lot = want, name, number
		return &t
	}
	return whole(lot, l.Number), whole(product, ""), err
}
