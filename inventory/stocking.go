package inventory

import (
	"context"
	"fmt"
	"strings"
	"time"
)

// resolve fills in what a person or a code left open: the product by its GTIN,
// the quantity by the packs; and refuses what can't be a record.
func (b *Book) resolve(r Reader, s *Stock) error {
	_, err := b.resolvePack(r, s, false)
	return err
}

// ResolveUse fills in the product of a use by its GTIN and returns the pack of
// that GTIN. Quantity is in pieces whatever pack was scanned; it may be 0 only
// where zeroOK is set.
func (b *Book) ResolveUse(r Reader, s *Stock, zeroOK bool) (Pack, error) {
	return b.resolvePack(r, s, zeroOK)
}

func (b *Book) resolvePack(r Reader, s *Stock, zeroOK bool) (Pack, error) {
	s.Lot, s.Serial = strings.TrimSpace(s.Lot), strings.TrimSpace(s.Serial)
	if err := CheckLotNumber(s.Lot); err != nil {
		return Pack{}, err
	}
	for _, d := range []Date{s.Expires, s.Made} {
		if d != "" {
			if _, err := ParseDate(string(d)); err != nil {
				return Pack{}, Invalid("expires", "Give dates as 2027-03-31.", "%v", err)
			}
		}
	}
	var pack Pack
	if s.GTIN != "" {
		if !ValidGTIN14(s.GTIN) {
			return Pack{}, Invalid("gtin", "Scan the code again, or copy the GTIN with zeros in front to make 14 digits.", "%q is not a GTIN of 14 digits with a right check digit", s.GTIN)
		}
		p, k, err := b.ProductByGTIN(r, s.GTIN)
		if err != nil {
			return Pack{}, err
		}
		switch {
		case p == nil && s.Product == "":
			s.Product = ProvisionalID(s.GTIN)
		case p != nil && s.Product == "":
			s.Product, pack = p.ID, k
		case p != nil && s.Product != p.ID:
			return Pack{}, Conflict("gtin_of_another", "Leave out one of the two.", "GTIN %s belongs to product %s, not %s", s.GTIN, p.ID, s.Product)
		case p != nil:
			pack = k
		}
	}
	if gtin, ok := s.Product.ProvisionalGTIN(); ok && s.GTIN == "" {
		p, _, err := b.ProductByGTIN(r, gtin) // pieces of what it was kept under
		if err != nil {
			return Pack{}, err
		}
		if p != nil {
			s.Product = p.ID
		}
	}
	if s.GTIN == "" {
		p, k, err := b.ProductByCode(r, s.Product)
		if err != nil {
			return Pack{}, err
		}
		if p != nil {
			s.Product, pack = p.ID, k
		}
	}
	if code, ok := s.Product.code(); ok && !ValidCode(code) {
		return Pack{}, Invalid("product", "Scan the code again.", "%q is no code of a pack", code)
	}
	if s.Product == "" {
		return Pack{}, Invalid("product", "Scan a code, or give the product's id or a GTIN.", "there is no product")
	}
	if !s.Product.Provisional() {
		p, err := b.Product(r, s.Product)
		if err != nil {
			return Pack{}, err
		}
		if p == nil {
			return Pack{}, NotFound("product", string(s.Product), "Add it to the catalogue first, or give the GTIN of the pack.")
		}
	}
	if s.Packs < 0 || s.Quantity < 0 {
		return Pack{}, Invalid("quantity", "Give a number of pieces or packs.", "a quantity is below zero")
	}
	const most = 10_000_000
	if s.Packs > most {
		return Pack{}, Invalid("packs", "Give a number of packs, 1 to 10 million.", "%d packs", s.Packs)
	}
	if s.Packs > 0 {
		holds := pack.Holds
		if holds == 0 {
			if s.Quantity == 0 {
				return Pack{}, Invalid("quantity", "Give the quantity in pieces.", "it is not known how many pieces a pack of GTIN %q holds", s.GTIN)
			}
		} else if n := s.Packs * holds; s.Quantity == 0 {
			s.Quantity = n
		} else if s.Quantity != n {
			return Pack{}, Conflict("quantity_differs", "Leave out the pieces or the packs.", "%d packs of %d are %d pieces, not %d", s.Packs, holds, n, s.Quantity)
		}
	}
	if (s.Quantity == 0 && !zeroOK) || s.Quantity > most {
		return Pack{}, Invalid("quantity", "Give a number of pieces, 1 to 10 million.", "a quantity of %d", s.Quantity)
	}
	return pack, nil
}

func (s *Stock) find(code string, l Level, format string, args ...any) {
	s.Findings = append(s.Findings, Finding{code, l, fmt.Sprintf(format, args...)})
}

// notice adds the findings that any movement of a lot can have.
func (b *Book) notice(r Reader, s *Stock, from LocationID, at time.Time) error {
	u, err := b.Unit(r)
	if err != nil {
		return err
	}
	zone, err := u.Zone()
	if err != nil {
		return err
	}
	l := s.lot()
	known, ok, err := LotFactsOf(r, l)
	if err != nil {
		return err
	}
	expires := s.Expires
	if expires == "" {
		expires = known.Expires
	}
	if today := DateOf(at, zone); expires != "" && expires < today {
		s.find(FindingExpired, Caution, "Lot %s expired on %s.", l.Number, expires)
	}
	if known.Expires != "" && s.Expires != "" && known.Expires != s.Expires {
		s.find(FindingExpiryDiffers, Caution, "Lot %s was recorded with expiry %s before, now with %s. Look at the pack.", l.Number, known.Expires, s.Expires)
	}
	hold, err := HoldOnPieces(r, s.Product, &Pieces{Lot: s.Lot, Serial: s.Serial, Made: s.Made, Expires: s.Expires})
	if err != nil {
		return err
	}
	if hold != nil {
		s.find(FindingHeld, Caution, "%s on hold: %s. It must not be used.", l.words(), hold.Reason)
	}
	if l.Number == "" {
		s.find(FindingNoLot, Caution, "There is no lot number. A field notice can't be answered for these pieces.")
	} else if !ok {
		similar, err := SimilarLots(r, l)
		if err != nil {
			return err
		}
		if len(similar) > 0 && similar[0].Product == l.Product {
			s.find(FindingSimilarLot, Caution, "Lot %s is new here, and lot %s reads almost the same. Compare with the pack.", l.Number, similar[0].Number)
		}
	}
	if from == "" {
		return nil
	}
	bal, err := BalanceAt(r, from, l)
	if err != nil || bal.Quantity >= s.Quantity {
		return err
	}
	loc, err := LocationByID(r, from)
	if err != nil {
		return err
	}
	return s.FindBelowZero(r, loc, bal.Quantity)
}

// stock prepares a movement: resolve, locations, findings.
func (b *Book) stock(r Reader, call Call, s *Stock, from, to LocationID) error {
	if err := b.resolve(r, s); err != nil {
		return err
	}
	if gtin, ok := s.Product.ProvisionalGTIN(); ok {
		s.find(FindingUnknownProduct, Caution, "GTIN %s is not in the catalogue. It was recorded under its number; add the product so that it is counted as what it is.", gtin)
	} else if code, ok := s.Product.code(); ok {
		s.find(FindingUnknownProduct, Caution, "%s is not in the catalogue. It was recorded under its code; add the product so that it is counted as what it is.", code)
	}
	for _, loc := range []LocationID{from, to} {
		if loc != "" {
			l, err := LocationByID(r, loc)
			if err != nil {
				return err
			}
			if err := inHouse(l); err != nil {
				return err
			}
		}
	}
	at := call.Happened
	if at.IsZero() {
		at = b.now()
	}
	return b.notice(r, s, from, at)
}

// TakeStock prepares pieces that are taken from a location: it resolves them
// and adds the findings.
func (b *Book) TakeStock(r Reader, call Call, s *Stock, from LocationID) error {
	return b.stock(r, call, s, from, "")
}

// Receive records a delivery's pieces, line by line, all or none. It asks
// nothing (Deliver does), and takes no label twice unless a line says Again.
func (b *Book) Receive(ctx context.Context, call Call, lines ...Received) (Receipt, error) {
	return b.receive(ctx, call, lines, false)
}

// repeatDays is within how many days the same delivery line again is taken for
// a repetition: common practice, no source.
const repeatDays = 60

// ReceiveOnce is Receive for lists that may come twice: it refuses a line of
// which the same lot, quantity, supplier and order were received in the last
// weeks.
func (b *Book) ReceiveOnce(ctx context.Context, call Call, lines ...Received) (Receipt, error) {
	return b.receive(ctx, call, lines, true)
}

func (b *Book) receive(ctx context.Context, call Call, lines []Received, once bool) (Receipt, error) {
	return b.Record(ctx, call, lines, func(r Reader) ([]Event, error) {
		evs := make([]Event, len(lines))
		labels := map[string]int{}
		return evs, EachLine(len(lines), func(i int) error {
			v := lines[i]
			evs[i] = &v
			if err := b.receivable(r, call, &v, 0); err != nil {
				return err
			}
			for _, l := range v.labels() {
				if n, ok := labels[l]; ok && !v.Again {
					return Conflict("label_received_before", "Leave the line out; or, if these are truly further pieces, say again.", "this very label (%s) stands on line %d too", labelWords(&v), n+1)
				}
				labels[l] = i
			}
			if once {
				return b.notReceived(r, &v, b.now().AddDate(0, 0, -repeatDays), b.now(), 0)
			}
			return nil
		})
	})
}

func (b *Book) receivable(r Reader, call Call, v *Received, after uint64) error {
	if v.To == "" {
		return Invalid("to", "Say where the delivery was put.", "there is no location")
	}
	if err := b.stock(r, call, &v.Stock, "", v.To); err != nil {
		return err
	}
	if v.Unit != "" && !ValidSSCC(v.Unit) {
		return Invalid("logistic_unit", "Scan the label again: 18 digits behind (00), the last of which is a check digit.", "%q is no SSCC", v.Unit)
	}
	if err := notTwice(r, v, after); err != nil {
		return err
	}
	_, pack, err := b.packOf(r, &v.Stock)
	if err != nil {
		return err
	}
	at := call.Happened
	if at.IsZero() {
		at = b.now()
	}
	f, err := b.implausible(r, &v.Stock, pack.Level, pack.Holds, at, nil)
	if f != nil {
		v.Findings = append(v.Findings, *f)
	}
	return err
}

// notReceived says whether the same was received before, between two instants,
// in a Refusal. Entries past after, unless it is 0, are of the same list and
// don't count.
func (b *Book) notReceived(r Reader, v *Received, from, to time.Time, after uint64) error {
	return ScanLedger(r, v.lot(), func(m *Movement) error {
		if m.Class != ClassReceived || m.Struck != 0 || m.Quantity != v.Quantity || m.Other != v.Supplier || m.Happened.Before(from) || m.Happened.After(to) {
			return nil
		}
		if after != 0 && m.Entry > after {
			return nil
		}
		e, err := r.Entry(m.Entry)
		if err != nil {
			return err
		}
		ev, err := b.reg.Decode(e)
		if err != nil {
			return err
		}
		if old, ok := ev.(*Received); !ok || old.Order != v.Order {
			return nil
		}
		return Conflict("received_before", "Leave the row out; or, if it is truly a second delivery, import it with --again.", "%d of lot %s were received on %s already, by entry %d", m.Quantity, v.Lot, DateOf(m.Happened, time.UTC), m.Entry)
	})
}

// Borrow records pieces taken in from another unit.
func (b *Book) Borrow(ctx context.Context, call Call, v Borrowed) (Receipt, error) {
	return b.Record(ctx, call, v, func(r Reader) ([]Event, error) {
		v := v
		if v.Other == "" || v.To == "" {
			return nil, Invalid("other", "Name the other unit and the location here.", "it is not said from whom or where to")
		}
		l, ok, err := unitNamed(r, v.Other)
		if err != nil {
			return nil, err
		}
		if v.From = ""; ok {
			v.From, v.Other = l.ID, l.Name
		}
		return []Event{&v}, b.stock(r, call, &v.Stock, "", v.To)
	})
}

// Move records pieces carried from one location to another, line by line, all
// or none.
func (b *Book) Move(ctx context.Context, call Call, lines ...Moved) (Receipt, error) {
	return b.Record(ctx, call, lines, func(r Reader) ([]Event, error) {
		evs := make([]Event, len(lines))
		return evs, EachLine(len(lines), func(i int) error {
			v := lines[i]
			evs[i] = &v
			if v.From == "" || v.To == "" || v.From == v.To {
				return Invalid("to", "Name two different locations.", "a move from %q to %q", v.From, v.To)
			}
			return b.stock(r, call, &v.Stock, v.From, v.To)
		})
	})
}

// Consume records a use outside a treatment.
func (b *Book) Consume(ctx context.Context, call Call, v Consumed) (Receipt, error) {
	return b.Record(ctx, call, v, func(r Reader) ([]Event, error) {
		v := v
		if v.From == "" {
			return nil, Invalid("from", "Name the location that it was taken from.", "there is no location")
		}
		return []Event{&v}, b.stock(r, call, &v.Stock, v.From, "")
	})
}

// Waste records pieces thrown away unused.
func (b *Book) Waste(ctx context.Context, call Call, v Wasted) (Receipt, error) {
	return b.Record(ctx, call, v, func(r Reader) ([]Event, error) {
		v := v
		if v.From == "" || v.Cause == "" {
			return nil, Invalid("cause", "Name the location and say why: dropped, torn, primed and not used, expired, …", "a waste needs a location and a cause")
		}
		return []Event{&v}, b.stock(r, call, &v.Stock, v.From, "")
	})
}

// Depart records pieces that went back, were destroyed, or were lent.
func (b *Book) Depart(ctx context.Context, call Call, v Departed) (Receipt, error) {
	return b.Record(ctx, call, v, func(r Reader) ([]Event, error) {
		v := v
		if departures[v.How] == 0 {
			return nil, Invalid("how", "Use returned, destroyed or lent.", "there is no way of leaving %q", v.How)
		}
		if v.From == "" || v.Other == "" {
			return nil, Invalid("other", "Name the location, and the supplier, witness or unit.", "it is not said from where or to whom")
		}
		v.To = ""
		switch v.How {
		case HowDestroyed:
			if strings.EqualFold(strings.TrimSpace(v.Other), call.Actor) {
				return nil, Invalid("other", "Name a second person who saw it.", "the witness of a destruction can't be its author")
			}
		case HowLent:
			l, ok, err := unitNamed(r, v.Other)
			if err != nil {
				return nil, err
			}
			if ok {
				v.To, v.Other = l.ID, l.Name
			}
		}
		return []Event{&v}, b.stock(r, call, &v.Stock, v.From, "")
	})
}

// Hold puts lots of a product on hold.
func (b *Book) Hold(ctx context.Context, call Call, h Held) (Receipt, error) {
	return b.Record(ctx, call, h, func(r Reader) ([]Event, error) {
		return []Event{&h}, b.checkHold(r, h.Product, h.Lots, h.AllLots, h.Reason)
	})
}

// Release ends a hold.
func (b *Book) Release(ctx context.Context, call Call, v Released) (Receipt, error) {
	return b.Record(ctx, call, v, func(r Reader) ([]Event, error) {
		if err := b.checkHold(r, v.Product, v.Lots, v.AllLots, v.Reason); err != nil {
			return nil, err
		}
		for _, l := range holdLots(v.Product, v.Lots, v.AllLots) {
			holds, err := holdsOf(r, l)
			if err != nil {
				return nil, err
			}
			if len(holds) > 0 {
				continue
			}
			if l.Number != "" {
				if all, err := holdsOf(r, Lot{l.Product, ""}); err != nil {
					return nil, err
				} else if len(all) > 0 {
					return nil, Conflict("all_lots_held", "Release all lots, and hold again those that must stay so.", "lot %s has no hold of its own: all lots of %s are on hold", l.Number, v.Product)
				}
			}
			if h, err := HoldOn(r, l); err != nil {
				return nil, err
			} else if h != nil && h.Scope != "" {
				return nil, Conflict("held_by_notice", "Release it there, with a reason: the notice then shows that it was.", "notice %s holds lot %q of %s", h.Notice, l.Number, v.Product)
			}
			return nil, Conflict("not_held", "Ask about the lot to see what holds it.", "lot %q of %s is not on hold", l.Number, v.Product)
		}
		return []Event{&v}, nil
	})
}

func (b *Book) checkHold(r Reader, id ProductID, lots []string, all bool, reason string) error {
	if !id.Provisional() {
		p, err := b.Product(r, id)
		if err != nil {
			return err
		}
		if p == nil {
			return NotFound("product", string(id), "Choose a product of the catalogue.")
		}
	}
	if len(lots) == 0 && !all {
		return Invalid("lots", "List the lot numbers, or say all_lots.", "there are no lots")
	}
	for _, n := range lots {
		if n == "" {
			return Invalid("lots", "List lot numbers, or say all_lots.", "a lot number is empty")
		}
		if err := CheckLotNumber(n); err != nil {
			return err
		}
	}
	if reason == "" {
		return Invalid("reason", "Say why, and by whose notice.", "there is no reason")
	}
	return nil
}
