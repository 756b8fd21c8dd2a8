package reports

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
	"lotbook/trace/intake"
)

// pageRows is how many rows of a list are read from one snapshot.
const pageRows = 500

// List is a unit's list as package intake reads it, so that what is written here
// can be taken in elsewhere; nil if there is none of that name. Rows are read as
// they are drawn, through short snapshots: what is recorded meanwhile may be
// among them.
func List(ctx context.Context, book *trace.Book, name string) *Table {
	form := intake.FormOf(name)
	if form == nil {
		return nil
	}
	rows := map[string]func(*lister) error{
		"products": (*lister).products, "patients": (*lister).patients, "prescriptions": (*lister).prescriptions,
		"schedule": (*lister).schedule, "receipts": (*lister).receipts, "counts": (*lister).counts,
		"ordering": (*lister).ordering,
	}[name]
	t := listTable(form)
	t.Rows = func(yield func([]Cell, error) bool) {
		l := &lister{ctx: ctx, book: book, columns: len(t.Columns), yield: yield}
		if err := rows(l); err != nil && !l.stopped {
			yield(nil, err)
		}
	}
	return t
}

// listTable is a form's table without rows.
func listTable(form *intake.Form) *Table {
	t := &Table{Columns: make([]Column, len(form.Columns))}
	for i, c := range form.Columns {
		t.Columns[i] = Column{Header: c.Name, Kind: listKinds[c.Name], TypedIn: c.Label}
		if t.Columns[i].Kind == KindBlank {
			t.Columns[i].Kind = KindText
		}
		if t.Columns[i].Kind == KindDecimal {
			t.Columns[i].Places = 3
		}
	}
	return t
}

// listKinds are the columns of lists that are no text.
var listKinds = map[string]Kind{
	"inner_holds": KindInteger, "case_holds": KindInteger, "fill_volume_ml": KindInteger, "units_per_ml": KindInteger, "short_dated_days": KindInteger,
	"minutes": KindInteger, "blood_flow_ml_min": KindInteger, "dialysate_flow_ml_min": KindInteger, "heparin_bolus_units": KindInteger,
	"heparin_units_per_hour": KindInteger, "heparin_stop_early_min": KindInteger, "shift": KindInteger, "quantity": KindInteger, "packs": KindInteger,
	"counted": KindInteger, "most_pieces": KindInteger, "shelf_days": KindInteger, "lead_days": KindDecimal, "lead_sd_days": KindDecimal,
	"order_cost": KindDecimal, "holding_cost": KindDecimal, "potassium_mmol_l": KindDecimal, "calcium_mmol_l": KindDecimal, "flow_factor": KindDecimal,
	"date": KindDate, "expires": KindDate, "made": KindDate, "shift_date": KindDate,
}

// ListWorkbook is a list as a workbook: its first sheet is what package intake
// reads, its second says what it is.
func ListWorkbook(ctx context.Context, book *trace.Book, name string, by Asked) (*Workbook, error) {
	t := List(ctx, book, name)
	if t == nil {
		return nil, nil
	}
	form := intake.FormOf(name)
	w := by.workbook(form.Title)
	var source Section
	err := book.View(ctx, func(r inventory.Reader) error {
		source = by.source(r.Head())
		return nil
	})
	w.Sheets = []Sheet{
		{Name: form.Title, Table: t},
		{Name: "About", Summary: &Summary{Sections: []Section{columnsSection(form), source}}},
	}
	return w, err
}

// columnsSection says what each column of a form is.
func columnsSection(form *intake.Form) Section {
	t := &Table{Columns: []Column{{Header: "Column", Kind: KindText}, {Header: "Needed", Kind: KindText}, {Header: "What goes into it", Kind: KindText, Wrap: true, Width: 80}}}
	var rows [][]Cell
	for _, c := range form.Columns {
		needed := Blank()
		if c.Required {
			needed = Text("yes")
		}
		rows = append(rows, []Cell{Text(c.Name), needed, Text(c.What)})
	}
	t.Rows = RowsOf(rows...)
	return Section{Title: "Columns", Table: t}
}

// Template is a form to be filled in: a header and a row that shows how, which
// is refused as data, and a sheet that explains each column.
func Template(form *intake.Form, at time.Time) *Workbook {
	t := listTable(form)
	row := make([]Cell, len(form.Columns))
	for i, c := range form.Columns {
		t.Columns[i].Kind = KindText
		row[i] = Text(c.Example)
	}
	t.Rows = RowsOf(row)
	return &Workbook{
		Title: form.Title, AskedBy: "lotbook", AskedAt: at,
		Sheets: []Sheet{
			{Name: form.Title, Table: t},
			{Name: "Columns", Summary: &Summary{Sections: []Section{
				{Title: "How to fill it in", Text: []string{
					fmt.Sprintf("Write a row for each line of the list on the sheet %q, below the names of the columns, and delete the row that shows how: a file that still has it is refused.", form.Title),
					"The columns may stand in any order, and those that are not needed may be left out. Columns with numbers such as GTINs and lots are text, so that zeros in front stay: paste values only.",
					"Then: " + form.TakenBy(),
				}},
				columnsSection(form),
			}}},
		},
	}
}

// A lister reads a list's rows and hands them out.
type lister struct {
	ctx     context.Context
	book    *trace.Book
	columns int
	yield   func([]Cell, error) bool
	stopped bool
	page    [][]Cell
}

// pages reads a list through short snapshots and hands each page out between
// them.
func (l *lister) pages(read func(r inventory.Reader, from []byte) (next []byte, err error)) error {
	var from []byte
	for {
		l.page = l.page[:0]
		err := l.book.View(l.ctx, func(r inventory.Reader) (err error) {
			l.page = l.page[:0]
			from, err = read(r, from)
			return err
		})
		if err != nil {
			return err
		}
		for _, row := range l.page {
			if !l.yield(row, nil) {
				l.stopped = true
				return inventory.ErrStop
			}
		}
		if from == nil {
			return nil
		}
	}
}

// whole reads a list that is not long.
func (l *lister) whole(read func(r inventory.Reader) error) error {
	return l.pages(func(r inventory.Reader, _ []byte) ([]byte, error) { return nil, read(r) })
}

func (l *lister) add(row ...Cell) { l.page = append(l.page, row) }

func yes(v bool) Cell {
	if v {
		return Text("yes")
	}
	return Blank()
}

func filled(n int64) Cell {
	if n == 0 {
		return Blank()
	}
	return Integer(n)
}

func thousandths(n int64, given bool) Cell {
	if !given {
		return Blank()
	}
	return Decimal(n, 3)
}

// listDate is a date, blank where there is none: in a list that is taken in
// elsewhere no word stands for it.
func listDate(d inventory.Date) Cell {
	if d == "" {
		return Blank()
	}
	return DateText(d)
}

func (l *lister) products() error {
	return l.whole(func(r inventory.Reader) error {
		ps, err := l.book.Products(r)
		for _, p := range ps {
			first, further := packsByLevel(p.Packs)
			each, inner, box := first[inventory.LevelEach], first[inventory.LevelInner], first[inventory.LevelCase]
			f := &p.Facts
			l.add(
				Text(string(p.ID)), Text(p.Name), Text(string(p.Category)), Text(p.Maker), Text(each.GTIN), Text(each.Code),
				Text(inner.GTIN), Text(inner.Code), filled(inner.Holds), Text(box.GTIN), Text(box.Code), filled(box.Holds), Text(intake.FurtherPacks(further)),
				thousandths(f.Potassium, f.IonsKnown), thousandths(f.Calcium, f.IonsKnown), Text(string(f.MixSystem)), filled(f.FillVolume), filled(f.UnitsPerML),
				yes(f.Shared), filled(int64(f.ShortDatedDays)),
			)
		}
		return err
	})
}

// packsByLevel parts the first numbered pack of each level from the others.
func packsByLevel(packs []inventory.Pack) (first map[string]inventory.Pack, further []inventory.Pack) {
	first = map[string]inventory.Pack{}
	for _, k := range packs {
		if _, ok := first[k.Level]; ok || k.GTIN == "" && k.Code == "" {
			further = append(further, k)
			continue
		}
		first[k.Level] = k
	}
	return first, further
}

func (l *lister) patients() error {
	return l.whole(func(r inventory.Reader) error {
		ps, err := trace.Patients(r)
		for _, p := range ps {
			row := []Cell{Text(string(p.ID)), Text(p.Name)}
			if p.Prescription == nil {
				row = append(row, make([]Cell, l.columns-len(row))...)
			} else {
				row = append(row, prescriptionCells(p.Prescription)...)
			}
			l.add(row...)
		}
		return err
	})
}

func (l *lister) prescriptions() error {
	return l.whole(func(r inventory.Reader) error {
		ps, err := trace.Patients(r)
		for _, p := range ps {
			if p.Prescription != nil {
				l.add(append([]Cell{Text(string(p.ID))}, prescriptionCells(p.Prescription)...)...)
			}
		}
		return err
	})
}

func prescriptionCells(p *inventory.Prescription) []Cell {
	var further []string
	for _, c := range inventory.Categories() {
		switch c {
		case inventory.Dialyzer, inventory.BloodlineSet, inventory.AcidConcentrate, inventory.Bicarbonate:
			continue
		}
		if id := p.Products[c]; id != "" {
			further = append(further, string(c)+" "+string(id))
		}
	}
	h := inventory.HeparinDose{}
	if p.Heparin != nil {
		h = *p.Heparin
	}
	product := func(c inventory.Category) Cell { return Text(string(p.Products[c])) }
	return []Cell{
		Text(string(p.Access)), yes(p.SingleNeedle), filled(p.Minutes), filled(p.BloodFlow), filled(p.DialysateFlow), thousandths(p.FlowFactor, p.FlowFactor != 0),
		product(inventory.Dialyzer), product(inventory.BloodlineSet), product(inventory.AcidConcentrate), product(inventory.Bicarbonate),
		Text(strings.Join(further, "; ")), thousandths(p.Potassium, p.IonsKnown), thousandths(p.Calcium, p.IonsKnown), Text(string(p.MixSystem)),
		filled(h.Bolus), filled(h.Rate), filled(h.StopEarly),
	}
}

func (l *lister) schedule() error {
	return l.pages(func(r inventory.Reader, from []byte) ([]byte, error) {
		return trace.SlotPage(r, from, pageRows, func(s trace.Slot) error {
			l.add(DateText(s.Shift.Date), Integer(int64(s.Shift.Number)), Text(string(s.Station)), Text(string(s.Patient)))
			return nil
		})
	})
}

// instantText is an instant to the last digit, which a date of a spreadsheet
// would round.
func instantText(t time.Time) Cell { return Text(t.UTC().Format(time.RFC3339Nano)) }

func (l *lister) receipts() error {
	return l.pages(func(r inventory.Reader, from []byte) ([]byte, error) {
		return l.book.ReceiptPage(r, from, pageRows, func(line *inventory.ReceiptLine) error {
			var s inventory.Stock
			var papers inventory.Papers
			var to inventory.LocationID
			var supplier, order, refused string
			if v := line.Received; v != nil {
				s, papers, to, supplier, order = v.Stock, v.Papers, v.To, v.Supplier, v.Order
			} else if v := line.Refused; v != nil {
				s, papers, supplier, order, refused = v.Stock, v.Papers, v.Supplier, v.Order, v.Cause
			}
			if err := l.named(r, &s); err != nil {
				return err
			}
			l.add(
				instantText(line.At), Text(s.GTIN), Text(string(s.Product)), Text(s.Lot), listDate(s.Expires), listDate(s.Made), Text(s.Serial),
				Integer(s.Quantity), filled(s.Packs), Text(string(to)), Text(supplier), Text(order), Text(papers.Delivery), Text(papers.Unit), Text(refused),
			)
			return nil
		})
	})
}

// named leaves of GTIN, product and packs what names the pieces by the catalogue
// as it is: the list is taken in against the catalogue that is exported with it.
func (l *lister) named(r inventory.Reader, s *inventory.Stock) error {
	if s.GTIN == "" {
		var err error
		s.Product, err = inventory.Catalogued(r, s.Product)
		return err
	}
	if s.Product.Provisional() {
		s.Product = ""
	}
	p, k, err := l.book.ProductByGTIN(r, s.GTIN)
	switch {
	case err != nil || p == nil:
		return err
	case s.Product == "" || p.ID == s.Product:
		s.Product = ""
		if s.Packs*k.Holds != s.Quantity {
			s.Packs = 0
		}
	default:
		s.GTIN, s.Packs = "", 0
	}
	return nil
}

func (l *lister) counts() error {
	var locs []inventory.Location
	err := l.book.View(l.ctx, func(r inventory.Reader) (err error) {
		locs, err = inventory.Locations(r)
		return err
	})
	for i := 0; err == nil && i < len(locs); i++ {
		err = l.pages(func(r inventory.Reader, from []byte) ([]byte, error) {
			return l.book.CountPage(r, locs[i].ID, from, pageRows, func(c *inventory.Count, v *inventory.Counted) error {
				head := []Cell{instantText(c.At), Text(string(c.Location)), yes(c.Complete), Blank(), Blank(), Text(c.Cause)}
				if c.Shift != nil {
					head[3], head[4] = DateText(c.Shift.Date), Integer(int64(c.Shift.Number))
				}
				named := 0
				for _, n := range v.Lines {
					if n.Unnamed {
						continue // the book's conclusion, and not what was counted
					}
					named++
					l.add(append(head[:6:6], Text(string(n.Product)), Text(n.Lot), listDate(n.Expires), Integer(n.Counted), Text(n.Cause))...)
				}
				if named == 0 {
					l.add(append(head[:6:6], make([]Cell, l.columns-6)...)...)
				}
				return nil
			})
		})
	}
	return err
}

func (l *lister) ordering() error {
	return l.whole(func(r inventory.Reader) error {
		_, products, err := inventory.OrderingOf(r)
		for _, id := range slices.Sorted(maps.Keys(products)) {
			o := products[id]
			lead, spread := Blank(), Blank()
			if t := o.LeadTime; t != nil {
				lead, spread = Decimal((t.Hours*1000+12)/24, 3), Decimal((t.SDHours*1000+12)/24, 3)
			}
			l.add(
				Text(string(id)), Text(o.Supplier), Text(o.Pack), lead, spread, filled(o.MostPieces), filled(o.ShelfDays),
				thousandths(o.OrderCost, o.OrderCost != 0), thousandths(o.HoldingCost, o.HoldingCost != 0), yes(o.NotOrdered),
			)
		}
		return err
	})
}
