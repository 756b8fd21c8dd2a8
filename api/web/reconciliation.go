package web

import (
	"cmp"
	"net/http"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/trace"
)

// A reconciliationPage sets what a shift used beside what was written down and
// what its treatments should have used.
type reconciliationPage struct {
	Frame
	Date       string
	Shifts     []option
	Shift      string
	Hours      string
	Prev, Next shiftLink
	Treatments string
	Problem    *trouble
	Groups     []lineGroup
	Open       int
	Uncounted  int
	Running    bool     // the shift has begun and is not over
	Counted    []string // places left out, since they are being counted
	Ahead      bool     // the shift has not begun
	Begins     string
	Workbook   string
	AsOf, Hash string
	AskedAt    string
}

// A lineGroup is lines of one kind under a title.
type lineGroup struct {
	Title, Class, Text string
	Lines              []lineRow
}

// A lineRow is one product at one place. Empty figures were not counted.
type lineRow struct {
	Product, ID, Kind, Place               string
	Counted, Recorded, Expected            string
	NotCounted                             bool
	CountedDiff, RecordedDiff              string // the differences
	CountedOpen, RecordedOpen              string // what of them no cause accounts for, empty for nothing
	CountedMeans, RecordedMeans, Perhaps   string
	Opening, In, Out, Closing, Used, Waste string
	OpeningCounted                         bool
	From, To                               string
	Causes                                 []causeRow
}

// A causeRow is what is on record about a difference, added up by its kind.
type causeRow struct {
	Title             string
	Counted, Recorded string
	Texts             []string
	More              int
}

// reconciliation shows a shift, the one that runs now if none is named.
func (p *Pages) reconciliation(c *gin.Context) error {
	page := &reconciliationPage{Frame: p.frame(c, "Reconciliation", "/reconciliation")}
	page.caution()
	rec, err := p.reconcile(c, page)
	if err != nil {
		return err
	}
	page.AsOf, page.Hash = itoa(rec.AsOf.Seq), rec.AsOf.Hash.String()
	page.Treatments = plural(rec.Treatments, "treatment", "treatments")
	err = p.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		k, err := p.calendar(r)
		if err != nil {
			return err
		}
		places, err := placesOf(r)
		if err != nil {
			return err
		}
		page.AskedAt = k.day(rec.At)
		page.Ahead = rec.At.Before(rec.From)
		page.Running = rec.At.Before(rec.To) && !page.Ahead
		page.Begins = k.day(rec.From)
		for _, x := range rec.Withheld {
			page.Counted = append(page.Counted, places[x.Location].Name)
		}
		page.group(k, rec, places)
		return nil
	})
	if err != nil {
		return err
	}
	if p.may(c, "GET /reconciliation.xlsx") {
		page.Workbook = shiftURL("/reconciliation.xlsx", rec.Shift)
	}
	return show(c, http.StatusOK, p.views.reconciliation, page)
}

func (p *Pages) reconciliationWorkbook(c *gin.Context) error {
	rec, err := p.reconcile(c, new(reconciliationPage))
	if err != nil {
		return err
	}
	return p.reconciliationBook(c, rec)
}

// reconcile finds the shift that was asked for and compares it.
func (p *Pages) reconcile(c *gin.Context, page *reconciliationPage) (*trace.Reconciliation, error) {
	var shift inventory.Shift
	err := p.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		k, err := p.calendar(r)
		if err != nil {
			return err
		}
		if shift, _, err = p.shiftOf(c, k); err != nil {
			return err
		}
		from, to, err := k.unit.Window(shift)
		if err != nil {
			return err
		}
		page.Unit, page.Date = k.unit.Name, string(shift.Date)
		page.Shift = k.shiftName(shift.Number)
		page.Hours = k.clock(from) + " to " + k.near(to, from)
		for _, h := range k.unit.Shifts {
			page.Shifts = append(page.Shifts, option{strconv.Itoa(h.Number), k.shiftName(h.Number), h.Number == shift.Number})
		}
		for step, link := range map[int]*shiftLink{-1: &page.Prev, 1: &page.Next} {
			s := k.beside(shift, step)
			*link = shiftLink{string(s.Date) + " · " + k.shiftName(s.Number), shiftURL("/reconciliation", s)}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	rec, err := p.Book.Reconcile(c.Request.Context(), shift)
	if err != nil || p.may(c, "GET /v1/count-sheets/:id/expected") {
		return rec, err
	}
	err = p.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		counts, err := inventory.BlindCounts(r)
		rec.Withhold(counts)
		return err
	})
	return rec, err
}

// group sorts the lines: open differences first, then what nobody counted, then
// what is accounted for.
func (page *reconciliationPage) group(k calendar, rec *trace.Reconciliation, places map[inventory.LocationID]inventory.Location) {
	open := lineGroup{Title: "Open differences", Class: "open", Text: "No cause on record accounts for these, or for all of them."}
	uncounted := lineGroup{Title: "Not counted at the end of this shift", Class: "uncounted", Text: "What was really used of these is not known. That is not the same as no difference."}
	moved := lineGroup{Title: "Only moved, and not counted", Class: "uncounted", Text: "Nothing of these was used here, by the record or by the rules."}
	settled := lineGroup{Title: "Accounted for", Class: "settled", Text: "Counted, recorded and expected agree, or a cause on record says why not."}
	for i := range rec.Lines {
		l := &rec.Lines[i]
		row := lineOf(k, l, places)
		switch {
		case row.CountedOpen != "" || row.RecordedOpen != "":
			open.Lines = append(open.Lines, row)
		case row.NotCounted && l.Recorded == 0 && l.Expected == 0:
			moved.Lines = append(moved.Lines, row)
		case row.NotCounted:
			uncounted.Lines = append(uncounted.Lines, row)
		default:
			settled.Lines = append(settled.Lines, row)
		}
		if row.NotCounted {
			page.Uncounted++
		}
	}
	page.Open = len(open.Lines)
	for _, g := range []lineGroup{open, uncounted, settled, moved} {
		if len(g.Lines) == 0 {
			continue
		}
		slices.SortStableFunc(g.Lines, func(a, b lineRow) int {
			return cmp.Or(cmp.Compare(a.Place, b.Place), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Product, b.Product))
		})
		page.Groups = append(page.Groups, g)
	}
}

func lineOf(k calendar, l *trace.Line, places map[inventory.LocationID]inventory.Location) lineRow {
	row := lineRow{
		Product: l.Name, ID: string(l.Product), Kind: l.Category.Title(), Place: places[l.Location].Name,
		Recorded: itoa(l.Recorded), Expected: itoa(l.Expected), NotCounted: l.Counted == nil,
		RecordedDiff: signed(l.RecordedLessExpected),
		Opening:      itoa(l.Opening), OpeningCounted: l.OpeningCounted, In: itoa(l.In), Out: itoa(l.Out), Used: itoa(l.Used), Waste: itoa(l.Wasted),
		From: k.day(l.From), To: k.near(l.To, l.From),
		Causes: causesOf(l.Causes),
	}
	if row.Product == "" {
		row.Product = row.ID
	}
	if l.Counted != nil {
		row.Counted, row.Closing, row.CountedDiff = itoa(*l.Counted), itoa(*l.Closing), signed(*l.CountedLessRecorded)
		if n := *l.OpenCountedLessRecorded; n != 0 {
			row.CountedOpen = signed(n)
		}
	}
	if n := l.OpenRecordedLessExpected; n != 0 {
		row.RecordedOpen = signed(n)
	}
	row.CountedMeans, row.Perhaps = countedMeans(l)
	row.RecordedMeans = recordedMeans(l)
	return row
}

// causesOf adds causes up by kind; a few of each kind are told one by one.
func causesOf(list []trace.Cause) []causeRow {
	const few = 6
	type sum struct{ counted, recorded int64 }
	var kinds []trace.CauseKind
	sums := map[trace.CauseKind]*sum{}
	texts := map[trace.CauseKind][]string{}
	for _, c := range list {
		s := sums[c.Kind]
		if s == nil {
			s = new(sum)
			sums[c.Kind] = s
			kinds = append(kinds, c.Kind)
		}
		s.counted += c.Counted
		s.recorded += c.Recorded
		text := c.Text
		if c.Treatment != "" {
			text += ", treatment " + string(c.Treatment)
		}
		texts[c.Kind] = append(texts[c.Kind], text)
	}
	var rows []causeRow
	for _, kind := range kinds {
		t := texts[kind]
		row := causeRow{Title: kind.Title(), Counted: signed(sums[kind].counted), Recorded: signed(sums[kind].recorded), Texts: t}
		if len(t) > few {
			row.Texts, row.More = t[:few], len(t)-few
		}
		rows = append(rows, row)
	}
	return rows
}
