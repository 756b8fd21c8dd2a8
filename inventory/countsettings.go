package inventory

import (
	"context"
	"encoding/json"
	"slices"
	"strings"

	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// ixCounting: nothing -> how the unit counts.
const ixCounting Index = "counting"

// Counting is how the unit counts.
type Counting struct {
	// A count may differ from the book by so many pieces, or by so much of
	// the book in thousandths, whichever is more, before it is asked for
	// again.
	TolerancePieces int64 `json:"tolerance_pieces"`
	ToleranceShare  int64 `json:"tolerance_thousandths"`
	// ByAnother asks for the recount by somebody who did not count the lot
	// before.
	ByAnother bool `json:"recount_by_another,omitempty"`
	// Causes of differences, beside StandardCauses. One that was used stays
	// in the entries that name it, whatever becomes of the list.
	Causes []CountCause `json:"causes,omitempty"`
	// Plan says how often what is counted.
	Plan CountPlan `json:"plan"`
}

// A CountCause is why a count differs from the book.
type CountCause struct {
	Code string `json:"code"`
	Text string `json:"text"`
}

// StandardCauses are the causes that every unit has: common practice, no source.
func StandardCauses() []CountCause {
	return []CountCause{
		{"not_written_down", "used and not written down"},
		{"moved", "carried to or from another place without an entry"},
		{"lent", "lent to or borrowed from another unit without an entry"},
		{"wasted", "broken, expired or thrown away without an entry"},
		{"received", "delivered in another quantity than was written down"},
		{"other_lot", "another lot number than was written down"},
		{"count_before", "the count before was wrong"},
		{"not_found_out", "looked for, and not found out"},
	}
}

// withinTolerance is the cause of a difference that is too small to be asked
// about.
var withinTolerance = CountCause{"within_tolerance", "within the tolerance of counts"}

// DefaultCounting is what holds until a unit sets its own: every difference is
// counted again.
func DefaultCounting() Counting { return Counting{Plan: DefaultCountPlan()} }

// AllCauses returns the standard causes and then the unit's own.
func (c *Counting) AllCauses() []CountCause { return append(StandardCauses(), c.Causes...) }

// tolerates reports whether a difference is too small to be asked about.
func (c *Counting) tolerates(counted, book int64) bool {
	d := counted - book
	return max(d, -d) <= max(c.TolerancePieces, book*c.ToleranceShare/1000)
}

func (c *Counting) check() error {
	if c.TolerancePieces < 0 || c.ToleranceShare < 0 || c.ToleranceShare > 1000 {
		return Invalid("tolerance", "Give pieces, and thousandths of the book up to 1000.", "a tolerance of %d pieces and %d thousandths", c.TolerancePieces, c.ToleranceShare)
	}
	seen := map[string]bool{withinTolerance.Code: true}
	for _, s := range StandardCauses() {
		seen[s.Code] = true
	}
	for _, s := range c.Causes {
		switch {
		case strings.TrimSpace(s.Code) == "" || !rowcode.Valid(s.Code) || len(s.Code) > 64 || strings.TrimSpace(s.Text) == "":
			return Invalid("causes", "Give a short code and the words.", "a cause has no code or no text")
		case seen[s.Code]:
			return Invalid("causes", "Choose another code: one that is there keeps its meaning.", "there is a cause %q already", s.Code)
		}
		seen[s.Code] = true
	}
	return c.Plan.check()
}

// CountingSet changes how the unit counts. It holds all of Counting.
type CountingSet struct{ Counting }

// Kind implements Event.
func (*CountingSet) Kind() string { return "counting.set" }

// Project implements Event.
func (c *CountingSet) Project(w Writer, _ journal.Entry) error {
	b, err := json.Marshal(&c.Counting)
	if err != nil {
		return err
	}
	return w.Put(ixCounting, []byte("counting"), b)
}

// CountingOf returns how the unit counts, DefaultCounting if nobody set it.
func CountingOf(r Reader) (Counting, error) {
	c := DefaultCounting()
	row, err := r.Get(ixCounting, []byte("counting"))
	if err != nil || row == nil {
		return c, err
	}
	c = Counting{}
	return c, json.Unmarshal(row, &c)
}

// SetCounting records how the unit counts.
func (b *Book) SetCounting(ctx context.Context, call Call, c Counting) (Receipt, error) {
	return b.Record(ctx, call, c, func(r Reader) ([]Event, error) {
		for _, p := range c.Plan.Prices {
			q, err := b.Product(r, p.Product)
			if err != nil {
				return nil, err
			}
			if q == nil {
				return nil, NotFound("product", string(p.Product), "Add it to the catalogue first.")
			}
		}
		return []Event{&CountingSet{c}}, c.check()
	})
}

// cause returns the cause of a code, in a Refusal if there is none.
func (c *Counting) cause(code string) (CountCause, error) {
	all := c.AllCauses()
	i := slices.IndexFunc(all, func(x CountCause) bool { return x.Code == code })
	if i < 0 {
		return CountCause{}, Invalid("cause", "Choose one of the list; an administrator can add to it.", "there is no cause %q", code)
	}
	return all[i], nil
}
