package reports

import (
	"fmt"
	"math"

	"lotbook/trace"
	"lotbook/trace/associate"
)

// Comparison is what treatments with a reaction share that others don't, as a
// Workbook. It names patients.
func Comparison(c *trace.Comparison, by Asked) *Workbook {
	w := by.workbook("What treatments with a reaction share, " + string(c.From) + " to " + string(c.To))
	w.Sheets = []Sheet{
		{Name: "Summary", Summary: &Summary{Sections: []Section{
			{Title: "Read this first", Caution: true, Text: c.Limits},
			{Title: "What was compared", Facts: comparedFacts(c)},
			standingSection(c),
			{Title: "How to read it", Text: []string{
				"Met, not met, not known: what is on record. Where something was used and its lot not recorded, it is not known which lot it was; such treatments are left out of the odds ratio and counted by themselves.",
				"Odds ratio: how many times higher the odds of a reaction were with it than without, by conditional maximum likelihood, with its exact 95 % interval. Infinite: no case without it, or no other with it; the lower bound is then what is known.",
				"p: Fisher's exact test, two-sided: how often chance alone gives a table no likelier than this one. Corrected: allowing for all that was looked at (Holm). Share of false ones: among this and all above it, if they are all taken to be true (Benjamini and Hochberg); it suits a list of what to look into, not a verdict.",
				"From and to, whatever is not known: the odds ratio if all cases of whom it is not known had not met it and all others had, and the other way round.",
				"Met by the same: no figure can tell these apart. A machine that always stands at one station and what was used there are one exposure.",
			}},
			by.source(c.AsOf),
		}}},
		{Name: "By treatment", Table: orNone(factorTable(c, func(x *trace.SharedFactor) *trace.Contrast { return &x.Treatments }), NoneFound())},
		{Name: "One case of each patient", Table: orNone(factorTable(c, func(x *trace.SharedFactor) *trace.Contrast { return &x.OneEach }), NoneFound())},
		{Name: "By patient", Table: orNone(factorTable(c, func(x *trace.SharedFactor) *trace.Contrast { return &x.Patients }), NoneFound())},
		{Name: "Cases", Table: orNone(caseTable(c), NoneFound())},
	}
	return w
}

func comparedFacts(c *trace.Comparison) []Fact {
	others := "all other treatments of this time that took place, of the same patients too"
	if c.Named {
		others = "as named by who asked"
	}
	return []Fact{
		{Label: "First day", Value: DateText(c.From)},
		{Label: "Last day", Value: DateText(c.To)},
		{Label: "Treatments with a reaction", Value: Integer(c.Treatments.Cases), Note: fmt.Sprintf("of %d patients, at most %d of one", c.Patients.Cases, c.MostOfOne)},
		{Label: "Others", Value: Integer(c.Treatments.Others), Note: others},
		{Label: "Patients without a reaction", Value: Integer(c.Patients.Others)},
		{Label: "Not done or struck out", Value: Integer(int64(c.NotDone)), Note: "not compared"},
		{Label: "Things looked at", Value: Integer(int64(c.Looked)), Note: "lots, batches, containers, machines, stations, shifts of the day"},
		{Label: "Judged by", Value: Text(map[trace.Counting]string{
			trace.ByTreatment: "treatments", trace.ByOne: "one case of each patient", trace.ByPatient: "patients",
		}[c.Judged]), Note: "cases of one patient are not independent of each other"},
		{Label: "Chance of a false one among them", Value: Decimal(int64(math.Round(c.Alpha*10_000)), 4), Places: 4, Note: "if nothing is behind the cases"},
	}
}

func standingSection(c *trace.Comparison) Section {
	s := Section{Title: "What stands out"}
	for _, x := range c.StandingOut() {
		s.Text = append(s.Text, FactorText(&x.Factor)+". "+x.Words)
	}
	if len(s.Text) == 0 {
		s.Text = []string{"Nothing stands out beyond what chance gives among so many. That is not to say that nothing is behind the cases: the intervals say what is left open."}
	}
	return s
}

// FactorText names what treatments may share.
func FactorText(f *trace.Factor) string {
	name := f.Name
	if name == "" {
		name = string(f.Product)
	}
	switch {
	case f.Kind == trace.FactorShift:
		return "shift " + f.ID + " of the day"
	case name == "":
		return string(f.Kind) + " " + f.ID
	}
	return fmt.Sprintf("%s, %s %s", name, f.Kind, f.ID)
}

func factorTable(c *trace.Comparison, of func(*trace.SharedFactor) *trace.Contrast) *Table {
	t := &Table{Frozen: 3, Columns: []Column{
		{Header: "Kind", Kind: KindText},
		{Header: "Number", Kind: KindText},
		{Header: "Product", Kind: KindText, Width: 24},
		{Header: "Met through", Kind: KindText},
		{Header: "Cases met", Kind: KindInteger},
		{Header: "Cases not met", Kind: KindInteger},
		{Header: "Cases not known", Kind: KindInteger},
		{Header: "Others met", Kind: KindInteger},
		{Header: "Others not met", Kind: KindInteger},
		{Header: "Others not known", Kind: KindInteger},
		{Header: "Odds ratio", Kind: KindDecimal, Places: 3},
		{Header: "95 % from", Kind: KindDecimal, Places: 3},
		{Header: "95 % to", Kind: KindDecimal, Places: 3},
		{Header: "p", Kind: KindDecimal, Places: 6},
		{Header: "p corrected", Kind: KindDecimal, Places: 6},
		{Header: "Share of false ones", Kind: KindDecimal, Places: 6},
		{Header: "From, whatever is not known", Kind: KindDecimal, Places: 3},
		{Header: "To, whatever is not known", Kind: KindDecimal, Places: 3},
		{Header: "Stands out", Kind: KindFlag},
		{Header: "Whatever is not known", Kind: KindFlag},
		{Header: "p on the cases' days alone", Kind: KindDecimal, Places: 6},
		{Header: "Met by the same", Kind: KindInteger},
		{Header: "In words, as judged", Kind: KindText, Width: 80},
	}}
	t.Rows = func(yield func([]Cell, error) bool) {
		for i := range c.Factors {
			x := &c.Factors[i]
			f := of(x)
			product := x.Name
			if product == "" {
				product = string(x.Product)
			}
			via := ""
			for _, v := range x.Via {
				if via != "" {
					via += ", "
				}
				via += v
			}
			sameDays := Blank()
			if x.SameDays != nil {
				sameDays = chance(*x.SameDays)
			}
			k := &f.Known
			row := []Cell{
				Text(string(x.Kind)), Text(x.ID), Text(product), Text(via),
				Integer(f.Cases.Met), Integer(f.Cases.NotMet), Integer(f.Cases.Unknown), Integer(f.Others.Met), Integer(f.Others.NotMet), Integer(f.Others.Unknown),
				ratioCell(k.OddsRatio), ratioCell(k.Low), ratioCell(k.High), chance(k.P), chance(f.Corrected), chance(f.FalseShare),
				ratioCell(f.Least.OddsRatio), ratioCell(f.Most.OddsRatio), Flag(x.StandsOut), Flag(x.Holds), sameDays, Integer(int64(len(x.Like))), Text(x.Words),
			}
			if !yield(row, nil) {
				return
			}
		}
	}
	return t
}

// ratioCell is an odds ratio to three decimals, or the word for what is none.
func ratioCell(r associate.Ratio) Cell {
	const most = 1e12
	if !r.Defined() || r.Infinite() || r > most {
		return Mark(r.String())
	}
	return Decimal(int64(math.Round(float64(r)*1000)), 3)
}

// chance is a probability to six decimals, or that it is less.
func chance(p float64) Cell {
	if p < 0.000001 {
		return Text("<0.000001")
	}
	return Decimal(int64(math.Round(p*1e6)), 6)
}

func caseTable(c *trace.Comparison) *Table {
	t := &Table{Frozen: 2, Columns: []Column{
		{Header: "Treatment", Kind: KindText},
		{Header: "Patient", Kind: KindText},
		{Header: "Name", Kind: KindText},
		{Header: "Problem", Kind: KindText},
		{Header: "Treatment start", Kind: KindInstant},
		{Header: "Reaction at", Kind: KindInstant},
		{Header: "How it was found", Kind: KindText},
	}}
	var rows [][]Cell
	for i := range c.Cases {
		x := &c.Cases[i]
		at := NotRecorded()
		if !x.At.IsZero() {
			at = Instant(x.At)
		}
		rows = append(rows, []Cell{Text(string(x.Treatment)), Text(string(x.Patient)), Text(x.Name), Text(string(x.Problem)), Instant(x.Start), at, Text(x.How)})
	}
	t.Rows = RowsOf(rows...)
	return t
}
