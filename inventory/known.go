package inventory

import (
	"slices"
	"strings"

	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
	"lotbook/scanner/wedge"
)

// A Layout is what a confirmed scan showed of how the label of a GTIN is laid
// out.
type Layout struct {
	GTIN string
	// Order are the application identifiers as they stand in the symbol:
	// 01, 17, 10, 21.
	Order []string
	// Lot and Serial are the values, of which only the shape is learned.
	Lot, Serial string
}

// mostKnown is how many orders, and how many shapes of lots and of serials, are
// learned of one GTIN. A serial of random letters and digits has a new shape
// each time: what is not learned is asked, and the row stays small and is soon
// not written any more.
const mostKnown = 16

// What is learned of a GTIN, each thing with the entry that first showed it.
type known struct {
	orders, lots, serials []shown
}

type shown struct {
	entry uint64
	what  string
}

func knownOf(r Reader, gtin string) (known, error) {
	row, err := r.Get(ixKnown, rowcode.AppendText(nil, gtin))
	if err != nil || row == nil {
		return known{}, err
	}
	var k known
	d := rowcode.NewDec(1, row)
	for _, list := range k.lists() {
		for n := d.Count(); n > 0; n-- {
			*list = append(*list, shown{d.Uint(), d.Text()})
		}
	}
	return k, d.Err()
}

func (k *known) lists() [3]*[]shown { return [...]*[]shown{&k.orders, &k.lots, &k.serials} }

func (k *known) save(w Writer, gtin string) error {
	key := rowcode.AppendText(nil, gtin)
	v := rowcode.NewEnc(1, 64)
	empty := true
	for _, list := range k.lists() {
		v.Uint(uint64(len(*list)))
		for _, s := range *list {
			v.Uint(s.entry)
			v.Text(s.what)
		}
		empty = empty && len(*list) == 0
	}
	if empty {
		return w.Delete(ixKnown, key)
	}
	return w.Put(ixKnown, key, v.Bytes())
}

// LearnLayout writes down what an entry showed of a label, if it is new. It
// writes nothing for a label like those before.
func LearnLayout(w Writer, e journal.Entry, l Layout) error {
	k, err := knownOf(w, l.GTIN)
	if err != nil {
		return err
	}
	fresh := false
	add := func(list *[]shown, what string) {
		if len(*list) < mostKnown && !slices.ContainsFunc(*list, func(s shown) bool { return s.what == what }) {
			*list = append(*list, shown{e.Seq, what})
			fresh = true
		}
	}
	add(&k.orders, strings.Join(l.Order, " "))
	if l.Lot != "" {
		add(&k.lots, string(wedge.MaskOf(l.Lot)))
	}
	if l.Serial != "" {
		add(&k.serials, string(wedge.MaskOf(l.Serial)))
	}
	if !fresh {
		return nil
	}
	return k.save(w, l.GTIN)
}

// ForgetLayout takes back what an entry, now struck out, had been the first to
// show. What others showed as well is learned again from the next of them.
func ForgetLayout(w Writer, e journal.Entry, gtin string) error {
	k, err := knownOf(w, gtin)
	if err != nil {
		return err
	}
	dropped := false
	for _, list := range k.lists() {
		n := len(*list)
		*list = slices.DeleteFunc(*list, func(s shown) bool { return s.entry == e.Seq })
		dropped = dropped || len(*list) < n
	}
	if !dropped {
		return nil
	}
	return k.save(w, gtin)
}

// KnownOf returns what confirmed scans of a GTIN showed: the orders of its
// identifiers, the shapes of its lots and serials. nil if there were none.
func KnownOf(r Reader, gtin string) (*wedge.Known, error) {
	k, err := knownOf(r, gtin)
	if err != nil || len(k.orders) == 0 {
		return nil, err
	}
	out := new(wedge.Known)
	for _, s := range k.orders {
		out.Orders = append(out.Orders, strings.Fields(s.what))
	}
	for _, s := range k.lots {
		out.Lots = append(out.Lots, wedge.Mask(s.what))
	}
	for _, s := range k.serials {
		out.Serials = append(out.Serials, wedge.Mask(s.what))
	}
	return out, nil
}
