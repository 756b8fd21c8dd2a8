package trace

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/scanner"
)

// A ProblemDraft is what is on record of a problem, in the fields that 21 CFR
// 803.32 asks a user facility for. It is a help to write a report, and no
// report: it doesn't say whether there has to be one.
type ProblemDraft struct {
	Problem ProblemID `json:"problem"`
	// Before are sentences that stand before everything else.
	Before []string `json:"before"`
	// Deadlines are what 21 CFR 803.30 says of when to send what to whom.
	Deadlines []string     `json:"deadlines"`
	Fields    []DraftField `json:"fields"`
	// Notes are what there is to mind in this draft.
	Notes    []string     `json:"notes,omitempty"`
	Pictures int          `json:"pictures"`
	Beside   Beside       `json:"together"`
	AsOf     journal.Head `json:"as_of"`
	At       time.Time    `json:"as_of_time"`
}

// draftBefore is said first: common practice, no source.
func draftBefore() []string {
	return []string{
		"This is a draft from what was recorded, and no report. It does not say whether anything has to be reported, to whom, or by when: a person decides that.",
		"The rule of your own country and the procedure of your unit come first. A notice's own instructions come before anything printed here.",
		"What is not recorded says so, and nothing is guessed. Check each field against the item and the patient's record before you send it.",
		"The patient's name is not in it. Words that people wrote may name somebody: read them before they leave the unit.",
	}
}

// draftDeadlines are those of 21 CFR 803.30(a), compared with the text in force
// in September 2024.
func draftDeadlines() []string {
	return []string{
		"For information, 21 CFR 803.30(a)(1): of a death that a device has or may have caused or contributed to, to FDA as soon as practicable and within 10 work days of the day when the facility becomes aware of it, and to the manufacturer if it is known.",
		"For information, 21 CFR 803.30(a)(2): of a serious injury that a device has or may have caused or contributed to, to the manufacturer within 10 work days of that day; to FDA if the manufacturer is not known.",
	}
}

// A drafter fills in a draft from one snapshot.
type drafter struct {
	b    *Book
	r    inventory.Reader
	p    *Problem
	set  ProblemSettings
	unit *inventory.Unit
	zone *time.Location
	who  func(string) string
	t    *Treatment         // nil if there is none
	item *inventory.Product // nil if it is not in the catalogue
}

// DraftProblem fills in a draft. who says what a user is called; nil leaves the
// id.
func (b *Book) DraftProblem(ctx context.Context, id ProblemID, who func(string) string) (*ProblemDraft, error) {
	if who == nil {
		who = func(id string) string { return id }
	}
	out := &ProblemDraft{Problem: id, Before: draftBefore(), Deadlines: draftDeadlines()}
	return out, b.View(ctx, func(r inventory.Reader) error {
		p, err := standingProblem(r, id)
		if err != nil {
			return err
		}
		d := &drafter{b: b, r: r, p: p, who: who}
		if err := d.read(); err != nil {
			return err
		}
		out.AsOf, out.At, out.Pictures = r.Head(), b.Now(), len(p.Standing())
		if out.Beside, err = b.ProblemsBeside(r, p); err != nil {
			return err
		}
		out.Fields = nil
		for _, s := range fieldSpecs() {
			f, err := d.field(&s)
			if err != nil {
				return err
			}
			out.Fields = append(out.Fields, f)
		}
		out.Notes = nil
		return d.notes(out)
	})
}

func (d *drafter) read() (err error) {
	if d.set, err = ProblemSettingsOf(d.r); err != nil {
		return err
	}
	if d.unit, err = d.b.Unit(d.r); err != nil {
		return err
	}
	if d.zone, err = d.unit.Zone(); err != nil {
		return err
	}
	if d.p.Treatment != "" {
		if d.t, err = TreatmentByID(d.r, d.p.Treatment); err != nil {
			return err
		}
	}
	id, err := newCanon(d.b, d.r).of(d.p.Product)
	if err != nil {
		return err
	}
	d.item, err = d.b.Product(d.r, id)
	return err
}

// field fills in one field: what a person gave for it with this problem, what is
// on record, what the unit set.
func (d *drafter) field(s *fieldSpec) (DraftField, error) {
	f := DraftField{Rule: draftRule + s.rule, Key: s.key, Label: s.label, Hint: s.hint}
	if v := d.p.Details[s.key]; v != "" {
		f.Value, f.Source = v, d.gave(func(p *ProblemPart) bool { return p.Details[s.key] != "" })
	} else if v := d.set.Facility[s.key]; v != "" && s.facility {
		f.Value, f.Source = v, "the unit's settings"
	} else if s.fill != nil {
		var err error
		if f.Value, f.Source, err = s.fill(d); err != nil {
			return f, err
		}
	}
	switch f.Recorded = f.Value != ""; {
	case !f.Recorded:
		f.Source = ""
	case s.fill == nil:
		f.Hint = "" // it says what to give
	}
	if f.Key == "brand" && !f.Recorded && d.item != nil {
		f.Hint = "In the unit's catalogue it is called " + d.item.Name
	}
	return f, nil
}

// gave says which part that stands said something last.
func (d *drafter) gave(says func(*ProblemPart) bool) string {
	for i := range slices.Backward(d.p.Parts) {
		if q := &d.p.Parts[i]; q.Struck == 0 && says(q) {
			return d.entry(q.Entry, q.By)
		}
	}
	return ""
}

func (d *drafter) entry(seq uint64, by string) string {
	return fmt.Sprintf("entry %d, by %s", seq, d.who(by))
}

func (d *drafter) day(t time.Time) string { return string(inventory.DateOf(t, d.zone)) }

func (d *drafter) patientCode() (string, string, error) {
	if d.t == nil {
		return "", "", nil
	}
	return string(d.p.ID), "the problem's number", nil
}

func (d *drafter) event() (string, string, error) {
	var list []string
	for _, c := range d.p.Seen {
		list = append(list, d.set.SeenText(c))
	}
	return strings.Join(list, "; "), d.gave(func(p *ProblemPart) bool { return len(p.Seen) > 0 }), nil
}

func (d *drafter) outcomes() (string, string, error) {
	var list []string
	for _, o := range d.p.Outcomes {
		list = append(list, o.Title())
	}
	return strings.Join(list, "; "), d.gave(func(p *ProblemPart) bool { return len(p.Outcomes) > 0 }), nil
}

func (d *drafter) eventDate() (string, string, error) {
	return d.p.At.In(d.zone).Format("2006-01-02 15:04 MST"), "as it was reported, " + d.entry(d.p.Entry, d.p.By), nil
}

// narrative is what people wrote, in the order of writing.
func (d *drafter) narrative() (string, string, error) {
	var lines []string
	for i := range d.p.Parts {
		q := &d.p.Parts[i]
		if q.Struck != 0 {
			continue
		}
		at := q.At.In(d.zone).Format("2006-01-02 15:04")
		if q.Words != "" {
			lines = append(lines, at+": "+q.Words)
		}
		if q.Done != "" {
			lines = append(lines, at+", done for the patient: "+q.Done)
		}
	}
	return strings.Join(lines, "\n"), "the problem's entries", nil
}

func (d *drafter) commonName() (string, string, error) {
	c := d.p.Category
	if c == "" && d.item != nil {
		c = d.item.Category
	}
	if c == "" || c == inventory.OtherCategory {
		return "", "", nil
	}
	return c.Title(), "its category", nil
}

func (d *drafter) maker() (string, string, error) {
	if d.item == nil {
		return "", "", nil
	}
	return d.item.Maker, "the unit's catalogue", nil
}

func (d *drafter) lot() (string, string, error) {
	return d.p.Lot, d.gave(func(p *ProblemPart) bool { return p.Lot == d.p.Lot }), nil
}

func (d *drafter) serial() (string, string, error) {
	return d.p.Serial, d.gave(func(p *ProblemPart) bool { return p.Serial == d.p.Serial }), nil
}

func (d *drafter) gtin() (string, string, error) {
	if d.p.GTIN == "" {
		return "", "", nil
	}
	return "GTIN " + d.p.GTIN, d.gave(func(p *ProblemPart) bool { return p.GTIN == d.p.GTIN }), nil
}

// expires is the date of the item's own label, or else what the unit knows of
// its lot.
func (d *drafter) expires() (string, string, error) {
	if d.p.Expires != "" {
		return string(d.p.Expires), d.gave(func(p *ProblemPart) bool { return p.Expires == d.p.Expires }), nil
	}
	if d.p.Product == "" || d.p.Lot == "" {
		return "", "", nil
	}
	f, _, err := inventory.LotFactsOf(d.r, inventory.Lot{Product: d.p.Product, Number: d.p.Lot})
	return string(f.Expires), "on record for the lot, not from this item's label", err
}

// udi writes the code that was scanned in brackets, if it is one of GS1 that can
// be read in one way, and else as it was carried.
func (d *drafter) udi() (string, string, error) {
	var out []string
	for line := range strings.Lines(d.p.Code) {
		if line = strings.TrimSpace(line); line == "" {
			continue
		}
		codes := scanner.Read(line, scanner.Options{Now: d.p.At})
		if len(codes) == 1 && codes[0].Error == nil && codes[0].Carrier == scanner.CarrierGS1 && len(codes[0].Candidates) == 0 {
			line = ""
			for _, e := range codes[0].Elements {
				line += "(" + e.AI + ")" + e.Value
			}
		}
		out = append(out, strings.ReplaceAll(line, "\x1d", "␝"))
	}
	return strings.Join(out, "\n"), d.gave(func(p *ProblemPart) bool { return p.Code != "" }), nil
}

func (d *drafter) available() (string, string, error) {
	if d.p.Kept == "" {
		return "", "", nil
	}
	text := d.p.Kept.Title()
	if d.p.KeptWhere != "" {
		text += ": " + d.p.KeptWhere
	}
	return text, d.gave(func(p *ProblemPart) bool { return p.Kept != "" }), nil
}

// others are what else the treatment used at that time, by its record.
func (d *drafter) others() (string, string, error) {
	if d.t == nil {
		return "", "", nil
	}
	var list []string
	for _, u := range d.t.usesOf("", "", d.p.At) {
		if u.Entry == d.p.Use || d.p.Use == 0 && u.Product == d.p.Product && u.Lot == d.p.Lot {
			continue
		}
		name, err := d.b.nameOf(d.r, u.Product)
		if err != nil {
			return "", "", err
		}
		if name == "" {
			name = string(u.Product)
		}
		text := u.Category.Title() + ": " + name
		if u.Lot != "" {
			text += ", lot " + u.Lot
		} else {
			text += ", lot not recorded"
		}
		list = append(list, text)
	}
	fed, err := d.b.SuppliesOf(d.r, d.t, d.p.At)
	for i := range fed {
		for _, x := range fed[i].Batches {
			list = append(list, fmt.Sprintf("%s: fed from %s, batch %s", fed[i].Category.Title(), fed[i].Tank, x.Batch))
		}
	}
	return strings.Join(list, "\n"), "the record of treatment " + string(d.t.ID), err
}

func (d *drafter) reporter() (string, string, error) {
	return d.who(d.p.By), "who reported the problem here", nil
}

func (d *drafter) userFacility() (string, string, error) {
	return "Yes", "21 CFR 803.32 is about user facilities", nil
}

func (d *drafter) facility() (string, string, error) {
	return d.unit.Name, "the unit's settings; its address is not recorded", nil
}

func (d *drafter) place() (string, string, error) {
	if d.t == nil {
		return "", "", nil
	}
	s, err := StationByID(d.r, d.t.Station)
	if err != nil {
		return "", "", err
	}
	return s.Name + ", " + d.unit.Name, "the record of treatment " + string(d.t.ID), nil
}

// notes adds what there is to mind in this draft.
func (d *drafter) notes(out *ProblemDraft) error {
	if d.t != nil {
		out.Notes = append(out.Notes, fmt.Sprintf("Treatment %s began at %s on machine %s at station %s.", d.t.ID, d.t.Start.In(d.zone).Format("2006-01-02 15:04 MST"), d.t.Machine, d.t.Station))
		if d.t.Struck != 0 {
			out.Notes = append(out.Notes, fmt.Sprintf("That treatment was struck out by entry %d: it is not on record as one that took place.", d.t.Struck))
		}
	}
	if d.p.Use != 0 {
		by, err := inventory.StruckBy(d.r, d.p.Use)
		if err != nil {
			return err
		}
		if by != 0 {
			out.Notes = append(out.Notes, fmt.Sprintf("Product and lot come from entry %d, which was struck out by entry %d: look whether they are right.", d.p.Use, by))
		}
	}
	if d.p.Lot == "" && d.t != nil && d.p.Category != "" {
		for _, u := range d.t.usesOf(d.p.Category, "", d.p.At) {
			out.Notes = append(out.Notes, fmt.Sprintf("Which lot it was is not recorded. In use was lot %q of %s.", u.Lot, u.Product))
		}
	}
	out.Notes = append(out.Notes, fmt.Sprintf("It was written into lotbook on %s.", d.day(d.p.Recorded)))
	if day, err := inventory.ParseDate(d.p.Details["aware"]); err == nil {
		out.Notes = append(out.Notes, fmt.Sprintf("The tenth day from Monday to Friday after %s is %s. Federal holidays are no work days either (21 CFR 803.3) and are not taken out here.", day, workDays(day, 10)))
	}
	if t := out.Beside.OfLot; t != nil && t.Count > 1 {
		out.Notes = append(out.Notes, fmt.Sprintf("%d problems of this lot were seen within %d days of this one, itself among them: %s.", t.Count, out.Beside.WithinDays, JoinProblems(t.Problems)))
	}
	if n := out.Pictures; n > 0 {
		out.Notes = append(out.Notes, fmt.Sprintf("%d pictures are kept with the problem; they are not in this draft.", n))
	}
	return nil
}

// JoinProblems writes problems' numbers in a row.
func JoinProblems(ids []ProblemID) string {
	var ss []string
	for _, id := range ids {
		ss = append(ss, string(id))
	}
	return strings.Join(ss, ", ")
}

// workDays returns the n-th day from Monday to Friday after a date.
func workDays(d inventory.Date, n int) inventory.Date {
	for n > 0 {
		d = d.AddDays(1)
		t, err := time.Parse(time.DateOnly, string(d))
		if err != nil {
			return d
		}
		if w := t.Weekday(); w != time.Saturday && w != time.Sunday {
			n--
		}
	}
	return d
}
