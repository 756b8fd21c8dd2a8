package reports

import (
	"math"

	"lotbook/trace"
	"lotbook/trace/control"
)

// Watch is what the shifts of a time say together as a Workbook: what goes
// without a reason, and the figures of the charts.
func Watch(w *trace.Watch, by Asked) *Workbook {
	b := by.workbook("Watch over " + string(w.From) + " to " + string(w.To))
	b.Sheets = []Sheet{
		{Name: "Summary", Summary: &Summary{Sections: []Section{
			{Title: "What is looked at", Facts: []Fact{
				{Label: "First day", Value: DateText(w.From)},
				{Label: "Last day", Value: DateText(w.To)},
				{Label: "Shifts with treatments", Value: Integer(int64(w.Shifts))},
				{Label: "Treatments", Value: Integer(int64(w.Treatments))},
				{Label: "Products and places looked at", Value: Integer(int64(w.Looked))},
			}},
			alarmSection(w),
			{Title: "How to read it", Text: []string{
				"An alarm says that what goes without a record or a cause has risen, and by how much. A signal of a chart says that one point is unusual; with many charts some are by chance.",
				"Charts follow the NIST/SEMATECH e-Handbook, 6.3.2 and 6.3.3; limits of shares and of counts are exact, of the binomial and the Poisson distribution.",
			}},
			by.source(w.AsOf),
		}}},
		{Name: "Products", Table: orNone(seriesTable(w), NoneFound())},
		{Name: "Counts", Table: orNone(pointTable(w), NoneFound())},
		{Name: "Not scanned", Table: orNone(chartTable(w.Scanning, "Share not scanned"), NoneFound())},
		{Name: "Wasted", Table: orNone(chartTable(w.Wasting, "Wasted for each treatment"), NoneFound())},
	}
	return b
}

func alarmSection(w *trace.Watch) Section {
	s := Section{Title: "What was found"}
	for i := range w.Series {
		if x := &w.Series[i]; x.Alarm || x.Steady {
			s.Text = append(s.Text, SeriesText(x))
		}
	}
	if len(s.Text) == 0 {
		s.Text = []string{"Nothing points to a loss. What is not known is said with each product."}
	}
	return s
}

// SeriesText names a series and says what was found.
func SeriesText(s *trace.Series) string { return seriesName(s) + ". " + s.Words }

func seriesName(s *trace.Series) string {
	name := s.Name
	if name == "" {
		name = string(s.Product)
	}
	if s.Location == "" {
		return name + ", all places"
	}
	return name + ", " + string(s.Location)
}

func placeCell(l string) Cell {
	if l == "" {
		return Text("all places")
	}
	return Text(l)
}

func seriesTable(w *trace.Watch) *Table {
	t := &Table{Frozen: 2, Columns: []Column{
		{Header: "Product", Kind: KindText},
		{Header: "Location", Kind: KindText},
		{Header: "Alarm", Kind: KindFlag},
		{Header: "Steady", Kind: KindFlag},
		{Header: "Counts", Kind: KindInteger},
		{Header: "Not counted", Kind: KindInteger},
		{Header: "Onset", Kind: KindText},
		{Header: "Pieces since", Kind: KindInteger},
		{Header: "Chart signals", Kind: KindInteger},
		{Header: "In words", Kind: KindText, Width: 80},
	}}
	t.Rows = func(yield func([]Cell, error) bool) {
		for i := range w.Series {
			s := &w.Series[i]
			row := []Cell{Text(s.Name), placeCell(string(s.Location)), Flag(s.Alarm), Flag(s.Steady), Integer(int64(len(s.Points))), Integer(int64(s.NotCounted)), Text(""), Mark("not known"), Mark("not known"), Text(s.Words)}
			if s.Name == "" {
				row[0] = Text(string(s.Product))
			}
			if s.Change != nil && s.Alarm {
				row[6], row[7] = Text(s.Change.Onset.String()), Integer(s.Change.Pieces)
			}
			if s.CountedLessRecorded != nil {
				row[8] = Integer(int64(len(s.CountedLessRecorded.Signals) + len(s.CountedLessExpected.Signals)))
			}
			if !yield(row, nil) {
				return
			}
		}
	}
	return t
}

func pointTable(w *trace.Watch) *Table {
	t := &Table{Frozen: 3, Columns: []Column{
		{Header: "Product", Kind: KindText},
		{Header: "Location", Kind: KindText},
		{Header: "Date", Kind: KindDate},
		{Header: "Shift", Kind: KindInteger},
		{Header: "Treatments", Kind: KindInteger},
		{Header: "Counted − recorded", Kind: KindInteger},
		{Header: "Counted − expected", Kind: KindInteger},
		{Header: "Open", Kind: KindInteger},
	}}
	t.Rows = func(yield func([]Cell, error) bool) {
		for i := range w.Series {
			s := &w.Series[i]
			for _, p := range s.Points {
				row := []Cell{
					Text(string(s.Product)), placeCell(string(s.Location)), DateText(p.To.Date), Integer(int64(p.To.Number)), Integer(p.Treatments),
					Integer(p.CountedLessRecorded), Integer(p.CountedLessExpected), Integer(p.Open),
				}
				if !yield(row, nil) {
					return
				}
			}
		}
	}
	return t
}

// chartTable lists the points of charts with their limits and signals.
func chartTable(charts []trace.PlaceChart, what string) *Table {
	t := &Table{Frozen: 2, Columns: []Column{
		{Header: "Location", Kind: KindText},
		{Header: "Shift", Kind: KindText},
		{Header: what, Kind: KindDecimal},
		{Header: "Centre", Kind: KindDecimal},
		{Header: "Lower limit", Kind: KindDecimal},
		{Header: "Upper limit", Kind: KindDecimal},
		{Header: "Signal", Kind: KindText, Width: 40},
	}}
	t.Rows = func(yield func([]Cell, error) bool) {
		for i := range charts {
			c := &charts[i]
			if c.Chart == nil {
				if !yield([]Cell{placeCell(string(c.Location)), Text(c.Unknown), Mark("not known"), Mark("not known"), Mark("not known"), Mark("not known"), Text("")}, nil) {
					return
				}
				continue
			}
			for j, p := range c.Chart.Points {
				row := []Cell{
					placeCell(string(c.Location)), Text(c.Labels[j]), rate(p.Value), rate(c.Chart.Center), rate(p.Low), rate(p.High),
					Text(signalText(c.Chart, j)),
				}
				if !yield(row, nil) {
					return
				}
			}
		}
	}
	return t
}

// rate is a share or a rate to four decimals.
func rate(v float64) Cell { return Decimal(int64(math.Round(v*10_000)), 4) }

func signalText(c *control.Chart, point int) string {
	text := ""
	for _, s := range c.Signals {
		if s.Point == point {
			if text != "" {
				text += ", "
			}
			text += s.Rule.Title()
		}
	}
	return text
}
