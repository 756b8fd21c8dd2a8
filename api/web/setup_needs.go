package web

import (
	"slices"

	"lotbook/inventory"
	"lotbook/trace"
)

// productName returns what people call a product, and its composition where a
// neighbour could be taken for it.
func (b *setupBuilder) productName(id inventory.ProductID) (string, error) {
	if id == "" {
		return "", nil
	}
	if gtin, ok := id.ProvisionalGTIN(); ok {
		return "Not in the catalogue, GTIN " + gtin, nil
	}
	q, _, err := b.p.Book.ProductByCode(b.r, id)
	if err == nil && q == nil {
		q, err = b.p.Book.Product(b.r, id)
	}
	switch {
	case err != nil:
		return "", err
	case q != nil:
		return q.Name, nil
	case id.Provisional():
		return "Not in the catalogue, " + string(id), nil
	}
	return string(id), nil
}

// needs lists what the treatment requires, with what is there of it.
func (b *setupBuilder) needs() error {
	missing := map[inventory.Category]trace.Missing{}
	list, supplied, err := b.p.Book.Lacks(b.r, b.t, b.p.Book.Now())
	if err != nil {
		return err
	}
	for _, m := range list {
		missing[m.Category] = m
	}
	for _, q := range b.t.Required {
		if b.t.NotDone {
			break
		}
		name, err := b.productName(q.Product)
		if err != nil {
			return err
		}
		row := needRow{Category: string(q.Category), Title: q.Category.Title(), Product: name, Prescribed: q.Prescribed}
		for _, a := range b.t.Absences {
			if a.Category != q.Category {
				continue
			}
			text := "done without: " + a.Cause
			if a.Used {
				text = "used, lot not recorded: " + a.Cause
			}
			row.Absences = append(row.Absences, absenceRow{a.Entry, text, b.who(a.By), b.k.near(a.At, b.t.Start)})
		}
		if err := b.supplied(&row, q.Category, supplied); err != nil {
			return err
		}
		need := max(1, q.Pieces)
		m, lacks := missing[q.Category]
		have := need - m.Pieces
		fed := !lacks && len(row.Supplies) > 0 && !b.hasUse(q.Category)
		if need > 1 && !fed {
			row.Count = itoa(max(0, have)) + " of " + itoa(need)
		}
		switch {
		case fed && len(row.Absences) == 0:
			row.State, row.Sign, row.Word = "there", "ok", "From the tank"
			b.page.There++
		case !lacks && len(row.Absences) > 0 && !b.hasUse(q.Category):
			row.State, row.Sign, row.Word = "without", "said", "Done without"
			b.page.There++
		case !lacks && b.usedAllTheSame(q.Category):
			row.State, row.Sign, row.Word = "stop", "stop", "Used all the same"
			b.page.There++
		case !lacks:
			row.State, row.Sign, row.Word = "there", "ok", "There"
			b.page.There++
		case m.Cause != "":
			row.State, row.Sign, row.Word, row.Cause = "said", "said", "Not recorded", m.Cause
			b.page.Said = append(b.page.Said, missingWords(m))
		case have > 0:
			row.State, row.Sign, row.Word, row.Open = "part", "missing", "Missing "+itoa(m.Pieces), true
			b.page.Missing = append(b.page.Missing, missingWords(m))
		default:
			row.State, row.Sign, row.Word, row.Open = "missing", "missing", "Missing", true
			b.page.Missing = append(b.page.Missing, missingWords(m))
		}
		b.page.All++
		b.page.Needs = append(b.page.Needs, row)
	}
	// What is missing stands first, where it is seen without scrolling.
	slices.SortStableFunc(b.page.Needs, func(x, y needRow) int {
		switch {
		case x.Open == y.Open:
			return 0
		case x.Open:
			return -1
		}
		return 1
	})
	return nil
}

// supplied says what the station is fed with of a category, and which kit holds
// it.
func (b *setupBuilder) supplied(row *needRow, c inventory.Category, list []trace.Supply) error {
	for i := range list {
		s := &list[i]
		if s.Category != c {
			continue
		}
		from := s.TankName
		for _, x := range s.Batches {
			name, err := b.productName(x.Product)
			if err != nil {
				return err
			}
			row.Supplies = append(row.Supplies, supplyRow{From: from, Batch: string(x.Batch), Product: name, UseBy: b.k.day(x.UseBy)})
		}
		row.Findings = append(row.Findings, findingsOf(s.Findings, true)...)
	}
	for i := range b.t.Uses {
		u := &b.t.Uses[i]
		if u.Struck != 0 || u.Category == c || u.Counts(c) == 0 {
			continue
		}
		name, err := b.productName(u.Product)
		if err != nil {
			return err
		}
		row.Kits = append(row.Kits, kitRow{name, u.Lot})
	}
	return nil
}

// usedAllTheSame reports whether something is in use in spite of a finding at
// level Stop: a reason was given.
func (b *setupBuilder) usedAllTheSame(c inventory.Category) bool {
	for i := range b.t.Uses {
		u := &b.t.Uses[i]
		if u.Counts(c) > 0 && u.Struck == 0 && u.Until.IsZero() && u.Reason != "" && slices.ContainsFunc(u.Findings, mayStop) {
			return true
		}
	}
	return false
}

// mayStop reports whether a finding may be at level Stop. A use keeps the codes
// of its findings alone.
func mayStop(code string) bool {
	switch code {
	case inventory.FindingExpired, inventory.FindingHeld, inventory.FindingNotPrescribed, inventory.FindingWrongProduct, inventory.FindingSameSerial, inventory.FindingContainer:
		return true
	}
	return false
}

func (b *setupBuilder) hasUse(c inventory.Category) bool {
	for i := range b.t.Uses {
		if u := &b.t.Uses[i]; u.Counts(c) > 0 && u.Struck == 0 {
			return true
		}
	}
	return false
}

// uses puts each use under what it serves, those struck out at the end.
func (b *setupBuilder) uses() error {
	at := map[inventory.Category]*needRow{}
	for i := range b.page.Needs {
		at[inventory.Category(b.page.Needs[i].Category)] = &b.page.Needs[i]
	}
	for i := range b.t.Uses {
		u := &b.t.Uses[i]
		row, err := b.use(u)
		if err != nil {
			return err
		}
		switch need := at[u.Category]; {
		case u.Struck != 0:
			b.page.Struck = append(b.page.Struck, row)
		case need != nil:
			if row.Product == need.Product {
				row.Product = "" // it stands above
			}
			need.Uses = append(need.Uses, row)
		default:
			b.page.Further = append(b.page.Further, row)
		}
	}
	return nil
}

func (b *setupBuilder) use(u *trace.Use) (useRow, error) {
	name, err := b.productName(u.Product)
	if err != nil {
		return useRow{}, err
	}
	row := useRow{
		Entry: u.Entry, Title: u.Category.Title(), Product: name, Lot: u.Lot, Serial: u.Serial, Expires: string(u.Expires), Pieces: u.Quantity,
		How: howWords(u.How), By: b.who(u.By), From: b.k.near(u.From, b.t.Start), Cause: lower(u.Cause), Reason: lower(u.Reason), StruckBy: u.Struck,
		Replaced: !u.Until.IsZero(), ReplaceCategory: string(u.Category), Container: string(u.Container),
	}
	if row.Replaced {
		row.Until = b.k.near(u.Until, b.t.Start)
	}
	row.CanReplace = !row.Replaced && u.Struck == 0
	for _, code := range u.Findings {
		if code == inventory.FindingNotRecorded && len(b.notes(u.Category)) == 0 {
			continue // that entry was struck out
		}
		sign := "caution"
		if u.Reason != "" && mayStop(code) {
			sign = "stop"
		}
		row.Notes = append(row.Notes, note{sign, findingTitle(code)})
	}
	if u.Struck == 0 {
		return row, nil
	}
	e, err := b.r.Entry(u.Struck)
	if err != nil {
		return row, err
	}
	ev, err := b.p.Book.Registry().Decode(e)
	if err != nil {
		return row, err
	}
	if c, ok := ev.(*inventory.Corrected); ok {
		row.StruckWhy = c.Reason
	}
	row.StruckAt, row.StruckWho = b.k.near(e.Happened, b.t.Start), b.who(e.Actor)
	return row, nil
}

// waiting lists the stopped scans that nobody has answered, the one that was
// just scanned first.
func (b *setupBuilder) waiting(done uint64) error {
	for i := len(b.t.Stopped) - 1; i >= 0; i-- {
		s := &b.t.Stopped[i]
		name, err := b.productName(s.Product)
		if err != nil {
			return err
		}
		row := stoppedRow{
			Entry: s.Entry, Product: name, Kind: s.Category.Title(), Lot: s.Lot, Findings: findingsOf(s.Findings, false),
			When: b.k.near(s.At, b.t.Start), By: b.who(s.By), New: s.Entry == done,
			Same: slices.ContainsFunc(s.Findings, func(f inventory.Finding) bool { return f.Code == inventory.FindingSameSerial }),
		}
		ev, err := b.p.event(b.r, s.Entry)
		if err != nil {
			return err
		}
		row.How = "Scanned"
		if st, ok := ev.(*trace.ScanStopped); ok {
			row.How = map[trace.How]string{trace.Typed: "Typed", trace.Photo: "Read from a picture", trace.Assumed: "Assumed"}[st.How]
			if row.How == "" {
				row.How = "Scanned"
			}
		}
		if row.New {
			b.page.Waiting = append([]stoppedRow{row}, b.page.Waiting...)
		} else {
			b.page.Waiting = append(b.page.Waiting, row)
		}
	}
	return nil
}
