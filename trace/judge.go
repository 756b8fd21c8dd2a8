package trace

import (
	"fmt"
	"slices"
	"time"

	"lotbook/inventory"
)

// judge works out what a scan was taken as and what there is to notice about
// it.
func (b *Book) judge(r inventory.Reader, call inventory.Call, t *Treatment, s *Scan) (*Used, error) {
	at := b.when(call)
	from, err := b.draw(r, s)
	if err != nil {
		return nil, err
	}
	if s.Quantity == 0 && s.Packs == 0 && !s.OpenedBefore {
		s.Quantity = 1
	}
	pack, err := b.ResolveUse(r, &s.Stock, s.OpenedBefore)
	if err != nil {
		return nil, err
	}
	p, err := b.Product(r, s.Product)
	if err != nil {
		return nil, err
	}
	batch, err := BatchByLot(r, inventory.Lot{Product: s.Product, Number: s.Lot})
	if err != nil {
		return nil, err
	}
	if batch != nil { // a jug of it: the pieces were taken when it was made
		s.Quantity, s.Packs = 0, 0
	}
	if from == nil && s.OpenedBefore {
		if from, err = openOf(r, t, s, at); err != nil {
			return nil, err
		}
	}
	ev := &Used{
		Treatment: t.ID, Stock: s.Stock, Category: s.Category, Location: t.Location, How: s.How, Code: s.Code,
		OpenedBefore: s.OpenedBefore, Reason: s.Reason, Replaces: s.Replaces, Cause: s.Cause,
	}
	if p != nil {
		ev.Category, ev.Name = p.Category, p.Name
	}
	if ev.How == "" {
		ev.How = Typed
	}
	if from != nil {
		ev.Container, ev.Quantity, ev.Packs = from.ID, 0, 0
		ev.containerFindings(from, t, at)
		if ev.Category == "" {
			ev.Category = from.Category
		}
	}
	if p != nil && p.Kit() {
		if ev.Also, err = b.parts(r, p, ev.Quantity); err != nil {
			return nil, err
		}
	}
	if s.teaches() {
		ev.Order = s.Order
	}
	if s.Chosen {
		ev.find(inventory.FindingReadingChosen, inventory.Caution, "The code can be read in several ways as it arrived. Taken was lot %s, the most likely by what is known. Compare with the pack.", ev.Lot)
	}
	if s.Changed {
		ev.find(inventory.FindingScannerChanged, inventory.Caution, "This scan does not look as scans of this scanner did when it was tested. Scan the test sheet again.")
	}
	if pack.Level != "" && pack.Level != inventory.LevelEach && s.Packs == 0 {
		ev.find(inventory.FindingBoxScanned, inventory.Caution, "This is the code of a %s of %d. Taken as %d of its pieces.", pack.Level, pack.Holds, ev.Quantity)
	}
	return ev, b.findings(r, t, ev, p, batch, at)
}

// parts returns what pieces of a kit count as, by its components.
func (b *Book) parts(r inventory.Reader, kit *inventory.Product, pieces int64) (list []Part, err error) {
	for _, c := range kit.Components {
		p, err := b.Product(r, c.Product)
		if err != nil {
			return nil, err
		}
		if p == nil || c.NotCounted {
			continue
		}
		n := max(1, pieces) * c.Pieces
		if i := slices.IndexFunc(list, func(x Part) bool { return x.Category == p.Category }); i >= 0 {
			list[i].Pieces += n
			continue
		}
		list = append(list, Part{p.Category, n})
	}
	return list, nil
}

func (u *Used) find(code string, l inventory.Level, format string, args ...any) {
	u.Findings = append(u.Findings, inventory.Finding{Code: code, Level: l, Message: fmt.Sprintf(format, args...)})
}

// findings adds what there is to notice, what matters most first.
func (b *Book) findings(r inventory.Reader, t *Treatment, ev *Used, p *inventory.Product, batch *Batch, at time.Time) error {
	u, err := b.Unit(r)
	if err != nil {
		return err
	}
	zone, err := u.Zone()
	if err != nil {
		return err
	}
	today := inventory.DateOf(at, zone)
	lot := inventory.Lot{Product: ev.Product, Number: ev.Lot}
	known, onRecord, err := inventory.LotFactsOf(r, lot)
	if err != nil {
		return err
	}
	expires := ev.Expires
	if expires == "" {
		expires = known.Expires
	}
	if u := t.sameSerial(ev); u != nil {
		ev.find(inventory.FindingSameSerial, inventory.Stop, "This very piece, serial %s, is recorded in this treatment already, at %s.", ev.Serial, u.From.In(zone).Format("15:04"))
	}
	hold, err := inventory.HoldOnPieces(r, ev.Product, &inventory.Pieces{Lot: ev.Lot, Serial: ev.Serial, Made: ev.Made, Expires: ev.Expires})
	if err != nil {
		return err
	}
	if hold != nil {
		ev.find(inventory.FindingHeld, inventory.Stop, "On hold: %s. Do not use it; put it aside and tell whoever keeps the stock.", hold.Reason)
	}
	within, err := heldWithin(r, lot)
	if err != nil {
		return err
	}
	for _, h := range within {
		ev.find(inventory.FindingHeld, inventory.Stop, "Lot %s of %s, which is in this, is on hold: %s. Do not use it; put it aside and tell whoever keeps the stock.", h.lot.Number, h.lot.Product, h.hold.Reason)
	}
	short := u.ShortDatedDays
	if p != nil && p.Facts.ShortDatedDays != 0 {
		short = p.Facts.ShortDatedDays
	}
	switch {
	case batch != nil:
		if !batch.UseBy.IsZero() && at.After(batch.UseBy) {
			ev.find(inventory.FindingExpired, inventory.Stop, "This batch was to be used by %s.", batch.UseBy.In(zone).Format("2006-01-02 15:04"))
		}
	case expires == "":
		ev.find(inventory.FindingExpiryUnknown, inventory.Caution, "No expiry date in the code or on record. Read it on the pack.")
	case expires < today:
		ev.find(inventory.FindingExpired, inventory.Stop, "Expired on %s%s.", expires, daysAgo(expires.DaysUntil(today)))
	case today.DaysUntil(expires) <= short:
		ev.find(inventory.FindingShortDated, inventory.Caution, "Expires on %s, in %d days.", expires, today.DaysUntil(expires))
	}
	if err := b.fits(r, t, ev, p, u); err != nil {
		return err
	}
	if known.Expires != "" && ev.Expires != "" && known.Expires != ev.Expires {
		ev.find(inventory.FindingExpiryDiffers, inventory.Caution, "This lot was recorded with expiry %s before. Look at the pack.", known.Expires)
	}
	if batch != nil {
		return nil
	}
	if ev.Lot == "" {
		ev.find(inventory.FindingNoLot, inventory.Caution, "No lot number: if a notice comes, this treatment can't be told from others. Read it on the pack.")
	} else if !onRecord {
		if err := similar(r, lot, ev); err != nil {
			return err
		}
	}
	return b.shelf(r, ev, lot, expires, today)
}

// daysAgo says how long ago a day was, where a person would count in days.
func daysAgo(n int) string {
	switch {
	case n == 1:
		return ", yesterday"
	case n < 60:
		return fmt.Sprintf(", %d days ago", n)
	}
	return ""
}

// sameSerial returns the use of the very same piece, nil if there is none.
func (t *Treatment) sameSerial(ev *Used) *Use {
	for i := range t.Uses {
		if u := &t.Uses[i]; ev.Serial != "" && u.Struck == 0 && u.Product == ev.Product && u.Serial == ev.Serial && u.Lot == ev.Lot {
			return u
		}
	}
	return nil
}

// fits says whether it is what the treatment needs.
func (b *Book) fits(r inventory.Reader, t *Treatment, ev *Used, p *inventory.Product, u *inventory.Unit) error {
	if p == nil {
		as := "not counted as anything that the treatment needs"
		if ev.Category != "" {
			as = "taken as " + ev.Category.Title()
		}
		ev.find(inventory.FindingUnknownProduct, inventory.Caution, "This product is not in the catalogue. Recorded by its number, %s.", as)
		return nil
	}
	need, listed := u.Rules.Need(ev.Category)
	req, required := t.required(ev.Category)
	switch {
	case !listed:
		ev.find(inventory.FindingWrongProduct, inventory.Stop, "%s (%s) is not for a treatment.", p.Name, ev.Category.Title())
		return nil
	case !required && need.Scan:
		ev.find(inventory.FindingWrongProduct, inventory.Stop, "By its prescription this treatment needs no %s.", ev.Category.Title())
		return nil
	case ev.Category == inventory.AcidConcentrate:
		if err := b.composition(r, t, ev, p, req); err != nil {
			return err
		}
	case p.Kit():
		if err := b.kitFits(r, t, ev, p); err != nil {
			return err
		}
	case req.Product != "" && req.Product != p.ID:
		if err := b.another(r, ev, req, "This is "+p.Name); err != nil {
			return err
		}
	}
	for _, a := range t.Absences {
		if a.Category == ev.Category && a.Used && a.Replaces == 0 {
			ev.find(inventory.FindingNotRecorded, inventory.Caution, "Entry %d says that a %s was used and not recorded (%s). If this is that pack, strike out that entry.", a.Entry, ev.Category.Title(), a.Cause)
		}
	}
	if required && ev.Replaces == 0 && t.recorded(ev.Category) >= max(1, req.Pieces) {
		ev.find(inventory.FindingSecondOfKind, inventory.Caution, "The treatment has its %s already.", ev.Category.Title())
	}
	return nil
}

// another adds that something else is prescribed, or usual, than what there is.
func (b *Book) another(r inventory.Reader, ev *Used, req Required, have string) error {
	want := string(req.Product)
	q, err := b.Product(r, req.Product)
	if err != nil {
		return err
	}
	if q != nil {
		want = q.Name
	}
	if req.Prescribed {
		ev.find(inventory.FindingWrongProduct, inventory.Stop, "Prescribed is %s. %s.", want, have)
	} else {
		ev.find(inventory.FindingWrongProduct, inventory.Caution, "The unit uses %s here. %s.", want, have)
	}
	return nil
}

// kitFits says whether what is in a kit is what the treatment needs.
func (b *Book) kitFits(r inventory.Reader, t *Treatment, ev *Used, kit *inventory.Product) error {
	for _, c := range kit.Components {
		p, err := b.Product(r, c.Product)
		if err != nil {
			return err
		}
		if p == nil || c.NotCounted {
			continue
		}
		req, _ := t.required(p.Category)
		if req.Product == "" || req.Product == p.ID || req.Product == kit.ID {
			continue
		}
		if err := b.another(r, ev, req, "This kit holds "+p.Name); err != nil {
			return err
		}
	}
	return nil
}

// composition compares an acid concentrate with the prescription: mix system,
// potassium and calcium, each shown with its unit.
func (b *Book) composition(r inventory.Reader, t *Treatment, ev *Used, p *inventory.Product, req Required) error {
	rx, err := b.PrescriptionOf(r, t)
	if err != nil {
		return err
	}
	want, err := b.wanted(r, rx, req)
	if err != nil {
		return err
	}
	have := p.Facts
	differs := contradicts(want, have)
	switch {
	case differs && (!have.IonsKnown || have.MixSystem == ""):
		ev.find(inventory.FindingNotPrescribed, inventory.Stop, "Prescribed is %s. What %s makes is not on record: compare the label with the prescription.", want.Composition(), p.Name)
	case differs:
		ev.find(inventory.FindingNotPrescribed, inventory.Stop, "Prescribed is %s. %s makes %s.", want.Composition(), p.Name, have.Composition())
	case want.MixSystem == "" && !want.IonsKnown:
		ev.find(inventory.FindingNotPrescribed, inventory.Caution, "The prescription names no concentrate. %s makes %s: compare it yourself.", p.Name, have.Composition())
	case req.Prescribed && req.Product != p.ID:
		ev.find(inventory.FindingWrongProduct, inventory.Caution, "Another product than prescribed, %s, of the same composition: %s.", p.Name, have.Composition())
	}
	return nil
}

// wanted returns the composition that a treatment is to have.
func (b *Book) wanted(r inventory.Reader, rx *inventory.Prescription, req Required) (inventory.Facts, error) {
	want := inventory.Facts{MixSystem: rx.MixSystem, Potassium: rx.Potassium, Calcium: rx.Calcium, IonsKnown: rx.IonsKnown}
	if req.Product != "" && req.Prescribed {
		q, err := b.Product(r, req.Product)
		if err != nil {
			return want, err
		}
		if q != nil {
			if want.MixSystem == "" {
				want.MixSystem = q.Facts.MixSystem
			}
			if !want.IonsKnown {
				want.Potassium, want.Calcium, want.IonsKnown = q.Facts.Potassium, q.Facts.Calcium, q.Facts.IonsKnown
			}
		}
	}
	return want, nil
}

// contradicts reports whether a composition is not the one wanted, or is not
// known where one is.
func contradicts(want, have inventory.Facts) bool {
	return (want.MixSystem != "" && have.MixSystem != want.MixSystem) ||
		(want.IonsKnown && (!have.IonsKnown || have.Potassium != want.Potassium || have.Calcium != want.Calcium))
}

func similar(r inventory.Reader, lot inventory.Lot, ev *Used) error {
	like, err := inventory.SimilarLots(r, lot)
	if err != nil {
		return err
	}
	if len(like) > 0 && like[0].Product == lot.Product {
		ev.find(inventory.FindingSimilarLot, inventory.Caution, "Lot %s is new here, and lot %s reads almost the same. Compare with the pack.", lot.Number, like[0].Number)
	}
	return nil
}

// shelf compares with what the book says lies at the station's location.
func (b *Book) shelf(r inventory.Reader, ev *Used, lot inventory.Lot, expires, today inventory.Date) error {
	loc, err := inventory.LocationByID(r, ev.Location)
	if err != nil {
		return err
	}
	there, err := inventory.Shelf(r, loc, ev.Product, today)
	if err != nil {
		return err
	}
	var here int64
	var first *inventory.ShelfLot // to take, of another lot that expires sooner
	for i := range there {
		l := &there[i]
		switch {
		case l.Lot == lot:
			here = l.Quantity
		case first == nil && l.Standing == inventory.StandsToTake && l.Expires != "" && l.Expires < expires:
			first = l
		}
	}
	if first != nil {
		ev.find(inventory.FindingOlderLot, inventory.Caution, "Lot %s here expires sooner, on %s. Take it first.", first.Lot.Number, first.Expires)
	}
	if ev.Quantity > here {
		return ev.FindBelowZero(r, loc, here)
	}
	return nil
}
