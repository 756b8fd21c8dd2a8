package web

import (
	"strings"

	"lotbook/inventory"
	"lotbook/trace"
)

// seenOptions are what may be wrong with a product, for one touch.
func seenOptions(r inventory.Reader) ([]option, error) {
	set, err := trace.ProblemSettingsOf(r)
	if err != nil {
		return nil, err
	}
	var out []option
	for _, k := range set.AllSeen() {
		out = append(out, option{Value: k.Code, Title: k.Text})
	}
	return out, nil
}

// seen offers to report a problem, and says of each lot in use how many problems
// were recorded of it: as something to know, beside the lot and without a colour.
func (b *setupBuilder) seen() error {
	var err error
	if b.page.Seen, err = seenOptions(b.r); err != nil {
		return err
	}
	if b.problems, err = b.p.Book.KnownProblems(b.r, b.p.Book.Now()); err != nil {
		return err
	}
	for i := range b.t.Uses {
		u := &b.t.Uses[i]
		if u.Struck != 0 {
			continue
		}
		known, err := b.known(u.Product, u.Lot)
		if err != nil {
			return err
		}
		b.page.known(u.Entry, known)
	}
	return nil
}

// known says how many problems of a lot were seen lately, nil for few.
func (b *setupBuilder) known(id inventory.ProductID, lot string) (*lotLink, error) {
	g, err := b.problems.Of(inventory.Lot{Product: id, Number: lot})
	if err != nil || g == nil {
		return nil, err
	}
	return &lotLink{plural(g.Count, "problem", "problems") + " recorded with this lot in " + itoa(b.problems.Days) + " days", problemsURL(string(g.Product), lot)}, nil
}

// known puts a note beside a use, where the page shows it.
func (p *setupPage) known(entry uint64, known *lotLink) {
	lists := [][]useRow{p.Further}
	for i := range p.Needs {
		lists = append(lists, p.Needs[i].Uses)
	}
	for _, list := range lists {
		for i := range list {
			if list[i].Entry == entry {
				list[i].Known = known
			}
		}
	}
}

// setupProblem records a problem with a product of this treatment: one touch on a
// kind, or words.
func (p *Pages) setupProblem(f *setupForm) (inventory.Receipt, error) {
	facts := trace.ProblemFacts{Treatment: f.t, Category: inventory.Category(f.value.Get("category")), Words: f.value.Get("words")}
	if s := f.value.Get("seen"); s != "" {
		facts.Seen = []string{s}
	}
	if f.value.Get("use") != "" {
		var err error
		if facts.Use, err = f.number("use"); err != nil {
			return inventory.Receipt{}, err
		}
	}
	if len(facts.Seen) == 0 && strings.TrimSpace(facts.Words) == "" {
		return inventory.Receipt{}, inventory.Invalid("seen", "Touch what was seen, or say it in words.", "it is not said what was seen")
	}
	return p.Book.ReportProblem(f.c.Request.Context(), f.call(), facts)
}

// toldProblem says in big type what was noted.
func (b *setupBuilder) toldProblem(t *told, ev *trace.ProblemReported, done uint64) error {
	set, err := trace.ProblemSettingsOf(b.r)
	if err != nil {
		return err
	}
	t.Lead = "Noted: a problem"
	if ev.Category != "" {
		t.Lead += " with the " + lower(ev.Category.Title())
	}
	if t.Product, err = b.productName(ev.Product); err != nil {
		return err
	}
	t.Lot, t.NoLot = ev.Lot, ev.Lot == ""
	var rest []string
	for _, c := range ev.Seen {
		rest = append(rest, set.SeenText(c))
	}
	if ev.Words != "" {
		rest = append(rest, "“"+ev.Words+"”")
	}
	if t.Rest = strings.Join(rest, " · "); b.page.MayWrite {
		t.More = &lotLink{"Say more: a picture, was it kept, what was done", problemURL(ev.Problem)}
	}
	t.Undo, t.UndoText = done, "Noted by mistake"
	return nil
}
