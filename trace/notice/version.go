package notice

import (
	"slices"
	"strings"
	"time"

	"lotbook/inventory"
)

// An ID names a notice in this unit: "N" and a number.
type ID string

// A Version is a notice as it was written, at one time.
type Version struct {
	// Reference is the issuer's number for it, Issuer who wrote it: the maker,
	// a distributor, an authority.
	Reference string `json:"reference"`
	Issuer    string `json:"issuer"`
	Subject   string `json:"subject,omitempty"`
	// Class is how grave it is, in the issuer's terms: I, II or III in the
	// United States (21 CFR 7.3(m), from memory).
	Class string `json:"class,omitempty"`
	// Dated is the day on the notice, Received the day on which it came,
	// Deadline the last day for the reply.
	Dated    inventory.Date `json:"dated,omitempty"`
	Received inventory.Date `json:"received"`
	Deadline inventory.Date `json:"deadline,omitempty"`
	// Lines are the products and lots.
	Lines []Line `json:"lines"`
	// Actions are what the notice asks for, in its words.
	Actions []Action `json:"actions,omitempty"`
	// Alone is set where the issuer says that this version takes the place of
	// those before: then only what it names is meant.
	Alone bool   `json:"alone,omitempty"`
	Note  string `json:"note,omitempty"`
}

// A Line is a product of a notice, with its lots.
type Line struct {
	// Printed is the product in the notice's words.
	Printed string `json:"printed,omitempty"`
	// Product is a product of the catalogue or a GTIN. Empty, if nobody could
	// tell yet which product is meant: then nothing is held for it.
	Product inventory.ProductID `json:"product,omitempty"`
	Scope   inventory.Scope     `json:"scope"`
}

// An Action is something that the notice asks for.
type Action struct {
	// ID is short and stays the same from version to version.
	ID   string `json:"id"`
	Text string `json:"text"`
	// Due is the last day for it, empty for the notice's deadline.
	Due inventory.Date `json:"due,omitempty"`
}

func (v *Version) check() error {
	switch {
	case strings.TrimSpace(v.Reference) == "":
		return inventory.Invalid("reference", "Copy the issuer's number; if there is none, write its date and subject.", "the notice has no reference")
	case strings.TrimSpace(v.Issuer) == "":
		return inventory.Invalid("issuer", "Name who wrote it.", "the notice has no issuer")
	case v.Received == "":
		return inventory.Invalid("received", "Give the day on which it came.", "it is not said when the notice came")
	case len(v.Lines) == 0:
		return inventory.Invalid("lines", "Name the products and lots as the notice does.", "the notice names no product")
	case len(v.Lines) > 500 || len(v.Actions) > 100:
		return inventory.Invalid("lines", "Put the lots of a product on one line.", "%d products and %d actions", len(v.Lines), len(v.Actions))
	}
	for _, d := range []struct {
		field string
		day   inventory.Date
	}{{"dated", v.Dated}, {"received", v.Received}, {"deadline", v.Deadline}} {
		if err := checkDay(d.field, d.day); err != nil {
			return err
		}
	}
	seen := map[string]bool{}
	for _, a := range v.Actions {
		if a.ID == "" || seen[a.ID] || a.Text == "" {
			return inventory.Invalid("actions", "Give each action an id of its own and its words.", "action %q", a.ID)
		}
		seen[a.ID] = true
		if err := checkDay("due", a.Due); err != nil {
			return err
		}
	}
	return inventory.EachLine(len(v.Lines), func(i int) error {
		l := &v.Lines[i]
		if l.Product == "" && strings.TrimSpace(l.Printed) == "" {
			return inventory.Invalid("product", "Give the product, or copy how the notice names it.", "a line names no product")
		}
		return l.Scope.Check()
	})
}

func checkDay(field string, d inventory.Date) error {
	if d == "" {
		return nil
	}
	if _, err := inventory.ParseDate(string(d)); err != nil {
		return inventory.Invalid(field, "Give a day as 2027-03-31.", "%v", err)
	}
	return nil
}

// A State is a notice and what was decided on it.
type State struct {
	ID       ID         `json:"notice"`
	Versions []Written  `json:"versions"`
	Decided  []Decision `json:"decided,omitempty"`
	// Confirmed is the last confirmation of the scope, nil if there was none.
	Confirmed *Confirmation `json:"confirmed,omitempty"`
	Released  []Release     `json:"released,omitempty"`
}

// A Written is a version and who recorded it; its number is its place, from 1.
type Written struct {
	Version
	Entry uint64    `json:"entry"`
	By    string    `json:"by"`
	At    time.Time `json:"at"`
}

// A Decision is what a person said of a lot that was in doubt.
type Decision struct {
	Product inventory.ProductID `json:"product"`
	// Lot is empty for the pieces of which no number is on record.
	Lot    string    `json:"lot"`
	Meant  bool      `json:"meant"`
	Reason string    `json:"reason"`
	Entry  uint64    `json:"entry"`
	By     string    `json:"by"`
	At     time.Time `json:"at"`
}

// A Confirmation says that somebody confirmed the scope of the versions up to
// one, and so held what it means.
type Confirmation struct {
	Version int       `json:"version"`
	Entry   uint64    `json:"entry"`
	By      string    `json:"by"`
	At      time.Time `json:"at"`
}

// A Release ended the notice's hold: on some lots, on a product, or on all.
type Release struct {
	Product inventory.ProductID `json:"product,omitempty"`
	Lots    []string            `json:"lots,omitempty"`
	Reason  string              `json:"reason"`
	Entry   uint64              `json:"entry"`
	By      string              `json:"by"`
	At      time.Time           `json:"at"`
}

// Latest is the last version written.
func (s *State) Latest() *Written { return &s.Versions[len(s.Versions)-1] }

// Scope is what the versions up to one mean together, product by product, with
// what was decided: 0 stands for the last version. Lines without a product are
// not in it.
func (s *State) Scope(version int) []inventory.ScopedOn {
	var list []inventory.ScopedOn
	for _, v := range s.inForce(version) {
		for _, l := range v.Lines {
			if l.Product == "" {
				continue
			}
			i := slices.IndexFunc(list, func(o inventory.ScopedOn) bool { return o.Product == l.Product })
			if i < 0 {
				i = len(list)
				list = append(list, inventory.ScopedOn{Product: l.Product})
			}
			for _, sl := range l.Scope {
				if !slices.ContainsFunc(list[i].Scope, func(o inventory.ScopeLine) bool { return o.Words() == sl.Words() }) {
					list[i].Scope = append(list[i].Scope, sl)
				}
			}
		}
	}
	for i := range list {
		for _, d := range s.Decided {
			if d.Product != list[i].Product {
				continue
			}
			list[i].Decided = slices.DeleteFunc(list[i].Decided, func(o inventory.DecidedLot) bool { return o.Lot == d.Lot })
			list[i].Decided = append(list[i].Decided, inventory.DecidedLot{Lot: d.Lot, Meant: d.Meant})
		}
	}
	return list
}

// inForce are the versions up to one that hold together: from the last that
// stands alone.
func (s *State) inForce(version int) []Written {
	if version <= 0 || version > len(s.Versions) {
		version = len(s.Versions)
	}
	first := 0
	for i, v := range s.Versions[:version] {
		if v.Alone {
			first = i
		}
	}
	return s.Versions[first:version]
}

// Unmatched are the lines, of the versions up to one (0: the last), of which nobody could tell
// yet which product they mean.
func (s *State) Unmatched(version int) []Line {
	var list []Line
	for _, v := range s.inForce(version) {
		for _, l := range v.Lines {
			if l.Product == "" {
				list = append(list, l)
			}
		}
	}
	return list
}
