package trace

import (
	"context"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"lotbook/inventory"
)

// Bounds of what belongs to one problem, so that its row stays small.
const (
	mostParts        = 100
	mostProblemText  = 4000 // bytes
	mostShortText    = 500  // bytes
	MostPictures     = 12   // of a problem, those struck out among them
	MostPictureBytes = 800 << 10
)

// ReportProblem records that something was wrong with a product; the call's time
// is when it was seen. A treatment and a category are enough, and so is a word:
// what the treatment's record knows of the product is filled in where it leaves
// no doubt, and nothing is guessed.
func (b *Book) ReportProblem(ctx context.Context, call inventory.Call, f ProblemFacts) (inventory.Receipt, error) {
	return b.Record(ctx, call, f, func(r inventory.Reader) ([]inventory.Event, error) {
		ev := &ProblemReported{Problem: ProblemID("PB" + strconv.FormatUint(r.Head().Seq+1, 10)), ProblemFacts: f}
		if err := b.checkFacts(r, &ev.ProblemFacts, nil, b.when(call)); err != nil {
			return nil, err
		}
		return []inventory.Event{ev}, nil
	})
}

// A FollowUp says more of a problem.
type FollowUp struct {
	Problem ProblemID
	ProblemFacts
}

// FollowProblem records more of a problem, or something that is better known
// now. What it does not name stays as it was said.
func (b *Book) FollowProblem(ctx context.Context, call inventory.Call, v FollowUp) (inventory.Receipt, error) {
	return b.Record(ctx, call, v, func(r inventory.Reader) ([]inventory.Event, error) {
		p, err := standingProblem(r, v.Problem)
		if err != nil {
			return nil, err
		}
		if len(p.Parts) >= mostParts {
			return nil, inventory.Conflict("problem_full", "Report a further problem, and name this one in its words.", "problem %s has %d parts already", p.ID, len(p.Parts))
		}
		ev := &ProblemFollowed{Problem: p.ID, ProblemFacts: v.ProblemFacts}
		return []inventory.Event{ev}, b.checkFacts(r, &ev.ProblemFacts, p, p.At)
	})
}

// A Picturing adds a picture to a problem. JPEG is the picture as it is to be
// kept; Sum is of the picture as it was sent, by which the same request is known
// again.
type Picturing struct {
	Problem       ProblemID
	About         string
	Sum           [32]byte
	JPEG          []byte `json:"-"`
	Width, Height int    `json:"-"`
}

// PictureProblem adds a picture to a problem.
func (b *Book) PictureProblem(ctx context.Context, call inventory.Call, v Picturing) (inventory.Receipt, error) {
	return b.Record(ctx, call, v, func(r inventory.Reader) ([]inventory.Event, error) {
		p, err := standingProblem(r, v.Problem)
		if err != nil {
			return nil, err
		}
		about := strings.TrimSpace(v.About)
		switch {
		case len(p.Pictures) >= MostPictures:
			return nil, inventory.Conflict("pictures_full", "Keep further pictures elsewhere, and say in a follow-up where.", "problem %s has %d pictures already", p.ID, len(p.Pictures))
		case len(v.JPEG) == 0 || len(v.JPEG) > MostPictureBytes:
			return nil, inventory.Invalid("picture", "Send a smaller picture.", "a picture of %d bytes", len(v.JPEG))
		}
		if err := checkTexts(mostShortText, map[string]string{"about": about}); err != nil {
			return nil, err
		}
		return []inventory.Event{&ProblemPictured{Problem: p.ID, About: about, JPEG: v.JPEG, Width: v.Width, Height: v.Height}}, nil
	})
}

// PictureOf returns the bytes of a problem's picture, a JPEG, or a Refusal that
// is inventory.ErrNotFound: also for one that was struck out.
func (b *Book) PictureOf(r inventory.Reader, id ProblemID, entry uint64) ([]byte, error) {
	p, err := ProblemByID(r, id)
	if err != nil {
		return nil, err
	}
	if !slices.ContainsFunc(p.Standing(), func(q ProblemPicture) bool { return q.Entry == entry }) {
		return nil, inventory.NotFound("picture", strconv.FormatUint(entry, 10), "Look at the problem for its pictures; one that was struck out is not shown.")
	}
	e, err := r.Entry(entry)
	if err != nil {
		return nil, err
	}
	ev, err := b.Registry().Decode(e)
	if err != nil {
		return nil, err
	}
	return ev.(*ProblemPictured).JPEG, nil
}

func standingProblem(r inventory.Reader, id ProblemID) (*Problem, error) {
	p, err := ProblemByID(r, id)
	if err == nil && p.Struck != 0 {
		return nil, inventory.Conflict("problem_struck_out", "Report it anew if there was one.", "problem %s was struck out by entry %d", id, p.Struck)
	}
	return p, err
}

// checkFacts fills in what the treatment and the catalogue know, and refuses
// what can't be a record. p is the problem that the facts follow up, nil for a
// new one.
func (b *Book) checkFacts(r inventory.Reader, f *ProblemFacts, p *Problem, at time.Time) error {
	for _, s := range []*string{&f.Words, &f.Done, &f.KeptWhere, &f.Lot, &f.Serial, &f.Code} {
		*s = strings.TrimSpace(*s)
	}
	if err := checkTexts(mostProblemText, map[string]string{"words": f.Words, "done": f.Done}); err != nil {
		return err
	}
	if err := checkTexts(mostShortText, map[string]string{"kept_where": f.KeptWhere, "code": strings.ReplaceAll(f.Code, "\x1d", "")}); err != nil {
		return err
	}
	set, err := ProblemSettingsOf(r)
	if err != nil {
		return err
	}
	if err := set.knownSeen(f.Seen); err != nil {
		return err
	}
	f.Seen, f.Outcomes = once(f.Seen), once(f.Outcomes)
	for _, o := range f.Outcomes {
		if o.Title() == "" {
			return inventory.Invalid("outcomes", "Choose from the list, or say it in words.", "there is no outcome %q", o)
		}
	}
	switch {
	case f.Kept != "" && f.Kept.Title() == "":
		return inventory.Invalid("kept", "Use kept, returned or thrown_away.", "there is no %q", f.Kept)
	case f.Category != "" && !f.Category.Known():
		return inventory.Invalid("category", "Name one of the categories.", "there is no category %q", f.Category)
	}
	if err := checkDetails("details", f.Details); err != nil {
		return err
	}
	if err := b.identify(r, f, p, at); err != nil {
		return err
	}
	if f.empty() {
		return inventory.Invalid("words", "Name the treatment and what it was seen on, or say in words what was seen.", "there is nothing to record")
	}
	return nil
}

// empty reports whether nothing is said.
func (f *ProblemFacts) empty() bool {
	return f.Treatment == "" && f.Category == "" && f.Product == "" && f.Lot == "" && f.Serial == "" && f.Expires == "" && f.Code == "" && len(f.Seen) == 0 &&
		f.Words == "" && f.Kept == "" && f.KeptWhere == "" && len(f.Outcomes) == 0 && f.Done == "" && len(f.Details) == 0
}

// once leaves out what stands in a list a second time.
func once[S ~string](list []S) (out []S) {
	for _, s := range list {
		if !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}

// checkTexts refuses texts that are too long or no text, by the name of their
// member.
func checkTexts(most int, texts map[string]string) error {
	for name, s := range texts {
		if len(s) > most || !utf8.ValidString(s) || strings.ContainsFunc(s, func(c rune) bool { return c < ' ' && c != '\n' && c != '\r' && c != '\t' }) {
			return inventory.Invalid(name, "Say it in up to "+strconv.Itoa(most)+" bytes, without control characters.", "%d bytes can't be recorded here", len(s))
		}
	}
	return nil
}

// identify fills in which item it is: by the entry of its use, by what the
// treatment used of that kind if that was one lot, by its GTIN.
func (b *Book) identify(r inventory.Reader, f *ProblemFacts, p *Problem, at time.Time) error {
	id := f.Treatment
	if id == "" && p != nil {
		id = p.Treatment
	}
	var t *Treatment
	if id != "" {
		var err error
		if t, err = b.standing(r, id); err != nil {
			return err
		}
	}
	named := f.Product != "" || f.GTIN != "" || f.Code != ""
	known := p != nil && p.Product != ""
	switch {
	case f.Use != 0:
		if err := b.fromUse(r, f, t); err != nil {
			return err
		}
	case t != nil && !named && !known && (f.Category != "" || f.Lot != ""):
		if err := b.fromTreatment(r, f, t, at); err != nil {
			return err
		}
	case known && !named && f.Lot != "":
		f.Product = p.Product
	}
	if err := inventory.CheckLotNumber(f.Lot); err != nil {
		return err
	}
	if f.Product == "" && f.GTIN == "" {
		return checkItem(f)
	}
	s := inventory.Stock{Product: f.Product, GTIN: f.GTIN, Lot: f.Lot, Serial: f.Serial, Expires: f.Expires}
	if _, err := b.ResolveUse(r, &s, true); err != nil {
		return err
	}
	f.Product, f.Lot, f.Serial = s.Product, s.Lot, s.Serial
	q, err := b.Product(r, f.Product)
	if q != nil {
		f.Category = q.Category
	}
	if err != nil {
		return err
	}
	return checkItem(f)
}

func checkItem(f *ProblemFacts) error {
	if f.Expires != "" {
		if _, err := inventory.ParseDate(string(f.Expires)); err != nil {
			return inventory.Invalid("expires", "Give dates as 2027-03-31.", "%v", err)
		}
	}
	if err := inventory.CheckLotNumber(f.Serial); err != nil {
		return inventory.Invalid("serial", "Copy the serial as printed, without control characters, at most 100 bytes.", "%q can't be a serial", f.Serial)
	}
	return nil
}

// fromUse takes over what an entry of the treatment recorded: a use or a stopped
// scan.
func (b *Book) fromUse(r inventory.Reader, f *ProblemFacts, t *Treatment) error {
	missing := inventory.Invalid("use", "Give the entry of a use, or of a stopped scan, of the treatment.", "the treatment has no use of entry %d", f.Use)
	if t == nil {
		return missing
	}
	e, err := r.Entry(f.Use)
	if err != nil {
		return missing
	}
	ev, err := b.Registry().Decode(e)
	if err != nil {
		return err
	}
	switch ev := ev.(type) {
	case *Used:
		if ev.Treatment != t.ID {
			return missing
		}
		return f.take(&ev.Stock, ev.Category, ev.Code)
	case *ScanStopped:
		if ev.Treatment != t.ID {
			return missing
		}
		return f.take(&ev.Stock, ev.Category, ev.Code)
	}
	return missing
}

// take fills in what a scan recorded; what was said of the item goes first, but
// it must not be of another product or lot.
func (f *ProblemFacts) take(s *inventory.Stock, c inventory.Category, code string) error {
	if (f.Product != "" && f.Product != s.Product) || (f.Lot != "" && s.Lot != "" && f.Lot != s.Lot) {
		return inventory.Conflict("use_of_another", "Leave out the entry, or the product and lot.", "entry %d is of lot %q of %s", f.Use, s.Lot, s.Product)
	}
	f.Product, f.Category = s.Product, c
	orElse(&f.GTIN, s.GTIN)
	orElse(&f.Lot, s.Lot)
	orElse(&f.Serial, s.Serial)
	orElse(&f.Expires, s.Expires)
	orElse(&f.Code, code)
	return nil
}

func orElse[S ~string](to *S, s S) {
	if *to == "" {
		*to = s
	}
}

// fromTreatment takes over what the treatment used of a category or a lot at a
// time, if that was of one lot. Two pieces of a lot are not told apart: only what
// they have in common is known.
func (b *Book) fromTreatment(r inventory.Reader, f *ProblemFacts, t *Treatment, at time.Time) error {
	uses := t.usesOf(f.Category, f.Lot, at)
	switch {
	case len(uses) == 1:
		f.Use = uses[0].Entry
		return b.fromUse(r, f, t)
	case len(uses) > 1:
		for _, u := range uses[1:] {
			if u.Product != uses[0].Product || u.Lot != uses[0].Lot {
				return nil
			}
		}
		f.Product, f.Lot, f.Expires = uses[0].Product, uses[0].Lot, uses[0].Expires
		return nil
	case f.Lot != "":
		return nil
	}
	fed, err := b.SuppliesOf(r, t, at)
	if err != nil {
		return err
	}
	fed = slices.DeleteFunc(fed, func(s Supply) bool { return s.Category != f.Category })
	if len(fed) == 1 && len(fed[0].Batches) == 1 {
		f.Product, f.Lot = fed[0].Batches[0].Product, string(fed[0].Batches[0].Batch)
	}
	return nil
}

// usesOf returns the uses of a category and a lot, where these are given, that
// stand and were in use at a time.
func (t *Treatment) usesOf(c inventory.Category, lot string, at time.Time) (list []Use) {
	for i := range t.Uses {
		u := &t.Uses[i]
		if u.Struck != 0 || c != "" && u.Counts(c) == 0 || lot != "" && u.Lot != lot {
			continue
		}
		if !u.From.After(at) && (u.Until.IsZero() || u.Until.After(at)) {
			list = append(list, *u)
		}
	}
	return list
}
