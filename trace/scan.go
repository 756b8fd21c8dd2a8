package trace

import (
	"context"
	"errors"
	"slices"

	"lotbook/inventory"
)

// A Scan is a pack that a nurse took in hand for a treatment. Product may be
// left out where GTIN is given; so may Quantity, which is then one piece.
type Scan struct {
	Treatment TreatmentID `json:"treatment"`
	inventory.Stock
	How  How    `json:"how"`
	Code string `json:"code,omitempty"`
	// Order are the application identifiers of the label as they stand in
	// its symbol, where its reading left no doubt or a person chose among
	// the readings; nil otherwise. It teaches how the product's labels are
	// laid out, for scans that lose the separator: see inventory.KnownOf.
	Order []string `json:"order,omitempty"`
	// Chosen is set where the code can be read in several ways and one was
	// taken by what is known, not by a person; Changed where the scan does
	// not look as the scanner's profile says. Both are findings.
	Chosen  bool `json:"chosen,omitempty"`
	Changed bool `json:"changed,omitempty"`
	// Category says what it is for when the catalogue doesn't know it.
	Category     inventory.Category `json:"category,omitempty"`
	OpenedBefore bool               `json:"opened_before,omitempty"`
	// Container is the opened container that it is drawn from: the rest can
	// be left out then.
	Container ContainerID `json:"container,omitempty"`
	// Reason answers findings at level Stop in advance.
	Reason string `json:"reason,omitempty"`
	// Replaces is the entry of the use that it takes over from, in
	// mid-treatment, at the call's time, because of Cause. Where nobody
	// recorded what it takes over from, there is a Cause alone.
	Replaces uint64 `json:"replaces,omitempty"`
	Cause    string `json:"cause,omitempty"`
}

// Scan records a pack as used, or, if there is a finding at level Stop and no
// reason, as stopped. The receipt's one entry is a Used or a ScanStopped; both
// hold the findings and what is still missing.
//
// A scan for a closed treatment is taken: something found out later.
func (b *Book) Scan(ctx context.Context, call inventory.Call, s Scan) (inventory.Receipt, error) {
	return b.Record(ctx, call, s, func(r inventory.Reader) ([]inventory.Event, error) {
		s := s
		t, err := b.standing(r, s.Treatment)
		if err != nil {
			return nil, err
		}
		if s.Replaces != 0 {
			old := t.use(s.Replaces)
			switch {
			case old == nil || old.Struck != 0:
				return nil, inventory.Invalid("replaces", "Give the entry of a use of this treatment.", "treatment %s has no use of entry %d", t.ID, s.Replaces)
			case !old.Until.IsZero():
				return nil, inventory.Conflict("replaced_already", "Replace what took its place.", "the use of entry %d was replaced already", s.Replaces)
			case s.Cause == "":
				return nil, inventory.Invalid("cause", "Say why: clotted, leaked, came loose, …", "a replacement needs a cause")
			}
		}
		ev, err := b.judge(r, call, t, &s)
		if err != nil {
			return nil, err
		}
		sup, err := b.TreatmentSupplies(r, t, b.when(call))
		if err != nil {
			return nil, err
		}
		if inventory.HasStop(ev.Findings) && s.Reason == "" {
			return []inventory.Event{&ScanStopped{
				Treatment: t.ID, Stock: ev.Stock, Name: ev.Name, Category: ev.Category, How: ev.How, Code: ev.Code, Order: ev.Order,
				OpenedBefore: ev.OpenedBefore, Container: ev.Container, Also: ev.Also, Replaces: ev.Replaces, Cause: ev.Cause,
				Missing: lacks(t.Missing(), t, sup),
			}}, nil
		}
		ev.Missing = t.missingAfter(ev, sup)
		return []inventory.Event{ev}, nil
	})
}

// teaches reports whether a scan shows how its product's label is laid out: it
// was scanned, and its order has a place for what is recorded of it.
func (s *Scan) teaches() bool {
	return (s.How == Scanned || s.How == Photo) && s.GTIN != "" && len(s.Order) <= 16 && slices.Contains(s.Order, "01") &&
		slices.Contains(s.Order, "10") == (s.Lot != "") && slices.Contains(s.Order, "21") == (s.Serial != "")
}

// missingAfter returns what the treatment lacks once a use is recorded.
func (t *Treatment) missingAfter(ev *Used, sup []Supply) []Missing {
	after := *t
	after.Uses = append(t.Uses[:len(t.Uses):len(t.Uses)], Use{
		Category: ev.Category, Product: ev.Product, Lot: ev.Lot, Quantity: ev.Quantity, Replaces: ev.Replaces, Cause: ev.Cause, Also: ev.Also,
	})
	return lacks(after.Missing(), &after, sup)
}

// standing returns a treatment that was not struck out.
func (b *Book) standing(r inventory.Reader, id TreatmentID) (*Treatment, error) {
	t, err := TreatmentByID(r, id)
	if err != nil {
		return nil, err
	}
	if t.Struck != 0 {
		return nil, inventory.Conflict("treatment_struck_out", "Choose the treatment that took place.", "treatment %s was struck out by entry %d", id, t.Struck)
	}
	return t, nil
}

// An Answer is what the nurse says to a stopped scan.
type Answer struct {
	Treatment TreatmentID `json:"treatment"`
	Stopped   uint64      `json:"stopped"`
	// Used: used all the same, with a Reason. Otherwise set aside.
	Used   bool   `json:"used"`
	Reason string `json:"reason,omitempty"`
}

// Answer records what became of a stopped scan: a Used with its reason, or a
// SetAside.
func (b *Book) Answer(ctx context.Context, call inventory.Call, a Answer) (inventory.Receipt, error) {
	return b.Record(ctx, call, a, func(r inventory.Reader) ([]inventory.Event, error) {
		t, err := b.standing(r, a.Treatment)
		if err != nil {
			return nil, err
		}
		waits := false
		for _, s := range t.Stopped {
			waits = waits || s.Entry == a.Stopped
		}
		if !waits {
			return nil, inventory.Conflict("not_waiting", "Look at the treatment: it may have been answered already.", "treatment %s has no stopped scan of entry %d that waits for an answer", t.ID, a.Stopped)
		}
		sup, err := b.TreatmentSupplies(r, t, b.when(call))
		if err != nil {
			return nil, err
		}
		if !a.Used {
			return []inventory.Event{&SetAside{Treatment: t.ID, Answers: a.Stopped, Reason: a.Reason, Missing: lacks(t.Missing(), t, sup)}}, nil
		}
		if a.Reason == "" {
			return nil, inventory.Invalid("reason", "Say why it is used all the same.", "there is no reason")
		}
		e, err := r.Entry(a.Stopped)
		if err != nil {
			return nil, err
		}
		dec, err := b.Registry().Decode(e)
		if err != nil {
			return nil, err
		}
		s, ok := dec.(*ScanStopped)
		if !ok {
			return nil, errors.New("the stopped scan is another kind of entry")
		}
		ev := &Used{
			Treatment: t.ID, Stock: s.Stock, Name: s.Name, Category: s.Category, Location: t.Location, How: s.How, Code: s.Code, Order: s.Order,
			OpenedBefore: s.OpenedBefore, Container: s.Container, Also: s.Also, Replaces: s.Replaces, Cause: s.Cause, Reason: a.Reason, Answers: a.Stopped,
		}
		if old := t.use(ev.Replaces); old == nil || old.Struck != 0 || !old.Until.IsZero() {
			ev.Replaces = 0 // struck out or replaced in the meantime
		}
		ev.Missing = t.missingAfter(ev, sup)
		return []inventory.Event{ev}, nil
	})
}

// An Unrecorded says that something required is not recorded by lot.
type Unrecorded struct {
	Treatment TreatmentID        `json:"treatment"`
	Category  inventory.Category `json:"category"`
	// Used: it was used, only not recorded. Otherwise done without.
	Used  bool   `json:"used"`
	Cause string `json:"cause"`
	// Replaces is the use that the unrecorded thing took over from.
	Replaces uint64 `json:"replaces,omitempty"`
}

// NotRecorded records why something required is not recorded by lot.
func (b *Book) NotRecorded(ctx context.Context, call inventory.Call, n Unrecorded) (inventory.Receipt, error) {
	return b.Record(ctx, call, n, func(r inventory.Reader) ([]inventory.Event, error) {
		t, err := b.standing(r, n.Treatment)
		if err != nil {
			return nil, err
		}
		if _, ok := t.required(n.Category); !ok {
			return nil, inventory.Invalid("category", "Name one of the categories that the treatment requires.", "treatment %s requires no %s", t.ID, n.Category.Title())
		}
		if n.Cause == "" {
			return nil, inventory.Invalid("cause", "Say why: code torn, packaging gone, not needed, …", "there is no cause")
		}
		if n.Replaces != 0 {
			if old := t.use(n.Replaces); old == nil || old.Struck != 0 || old.Category != n.Category || !n.Used {
				return nil, inventory.Invalid("replaces", "Give the entry of a use of this treatment and category.", "treatment %s has no %s of entry %d", t.ID, n.Category.Title(), n.Replaces)
			}
		}
		ev := &NotRecorded{Treatment: t.ID, Category: n.Category, Used: n.Used, Cause: n.Cause, Replaces: n.Replaces}
		after := *t
		after.Absences = append(t.Absences[:len(t.Absences):len(t.Absences)], Absence{Category: n.Category, Used: n.Used, Cause: n.Cause, Replaces: n.Replaces})
		sup, err := b.TreatmentSupplies(r, t, b.when(call))
		ev.Missing = lacks(after.Missing(), &after, sup)
		return []inventory.Event{ev}, err
	})
}
