package inventory_test

import (
	"strings"
	"testing"

	"lotbook/inventory"
)

func TestScopeMatch(t *testing.T) {
	meant, doubt, not := inventory.Meant, inventory.Doubtful, inventory.NotMeant
	list := func(lots ...string) inventory.ScopeLine {
		return inventory.ScopeLine{Kind: inventory.ScopeLots, Lots: lots}
	}
	between := func(from, to string) inventory.ScopeLine {
		return inventory.ScopeLine{Kind: inventory.ScopeRange, From: from, To: to}
	}
	form := func(p string) inventory.ScopeLine {
		return inventory.ScopeLine{Kind: inventory.ScopePattern, Pattern: p}
	}
	all := inventory.ScopeLine{Kind: inventory.ScopeAll}
	march := inventory.Window{From: "2026-03-01", To: "2026-03-31"}
	made, expires, received := all, all, all
	made.Made, expires.Expires, received.Received = march, march, march
	some := list("L1")
	some.Serials, some.SerialFrom, some.SerialTo = []string{"S7"}, "S100", "S199"

	for _, c := range []struct {
		line inventory.ScopeLine
		p    inventory.Pieces
		want inventory.Verdict
	}{
		// A published notice printed one lot as 04015309 and as 04D15309: one is
		// proposed for the other, and never taken for it.
		{list("04015309"), inventory.Pieces{Lot: "04015309"}, meant},
		{list("04015309"), inventory.Pieces{Lot: "04D15309"}, doubt},
		{list("AO1"), inventory.Pieces{Lot: "A01"}, doubt},
		{list("A 01"), inventory.Pieces{Lot: "A01"}, doubt},
		{list("0A01"), inventory.Pieces{Lot: "A01"}, doubt},
		{list("A01"), inventory.Pieces{Lot: "A02"}, not},
		{list("A01"), inventory.Pieces{}, doubt},

		{between("A0100", "A0250"), inventory.Pieces{Lot: "A0100"}, meant},
		{between("A0100", "A0250"), inventory.Pieces{Lot: "A0250"}, meant},
		{between("A0100", "A0250"), inventory.Pieces{Lot: "A0180"}, meant},
		{between("A0100", "A0250"), inventory.Pieces{Lot: "A0099"}, not},
		{between("A0100", "A0250"), inventory.Pieces{Lot: "A0251"}, not},
		{between("A0100", "A0250"), inventory.Pieces{Lot: "A180"}, doubt},    // a zero fewer
		{between("A0100", "A0250"), inventory.Pieces{Lot: "A0180-2"}, doubt}, // a part of a lot?
		{between("A0100", "A0250"), inventory.Pieces{Lot: "AO180"}, doubt},   // O for 0
		{between("A0100", "A0250"), inventory.Pieces{Lot: "B0180"}, not},
		{between("99", "101"), inventory.Pieces{Lot: "100"}, meant},
		{between("99", "101"), inventory.Pieces{Lot: "98"}, not},
		{between("99", "101"), inventory.Pieces{Lot: "0100"}, doubt},
		{between("A950", "B050"), inventory.Pieces{Lot: "A990"}, doubt}, // letters change
		{between("A950", "B050"), inventory.Pieces{Lot: "B010"}, doubt},
		{between("A950", "B050"), inventory.Pieces{Lot: "B051"}, not},
		{between("12A34", "14A10"), inventory.Pieces{Lot: "13A99"}, doubt}, // digits in two places
		{between("12A34", "14A34"), inventory.Pieces{Lot: "13A34"}, meant},
		{between("A0100", "A0250"), inventory.Pieces{}, doubt},

		{form("25K##*"), inventory.Pieces{Lot: "25K07X"}, meant},
		{form("25K##*"), inventory.Pieces{Lot: "25K7"}, not},
		{form("25K*"), inventory.Pieces{Lot: "Z5K9"}, doubt},
		{form("?5*9"), inventory.Pieces{Lot: "X5009"}, meant},
		{form("?5*9"), inventory.Pieces{Lot: "5009"}, not},

		{all, inventory.Pieces{Lot: "any"}, meant},
		{all, inventory.Pieces{}, meant},
		{inventory.ScopeLine{Kind: inventory.ScopeNoLot}, inventory.Pieces{}, meant},
		{inventory.ScopeLine{Kind: inventory.ScopeNoLot}, inventory.Pieces{Lot: "A"}, not},

		{made, inventory.Pieces{Lot: "A", Made: "2026-03-31"}, meant},
		{made, inventory.Pieces{Lot: "A", Made: "2026-04-01"}, not},
		{made, inventory.Pieces{Lot: "A"}, doubt},
		{expires, inventory.Pieces{Lot: "A", Expires: "2026-03-01"}, meant},
		{expires, inventory.Pieces{Lot: "A", Expires: "2026-02-28"}, not},
		{expires, inventory.Pieces{Lot: "A"}, doubt},
		{received, inventory.Pieces{Lot: "A", Received: []inventory.Date{"2026-01-05", "2026-03-05"}}, meant},
		{received, inventory.Pieces{Lot: "A", Received: []inventory.Date{"2026-01-05"}}, not},
		{received, inventory.Pieces{Lot: "A"}, doubt},

		{some, inventory.Pieces{Lot: "L1", Serial: "S7"}, meant},
		{some, inventory.Pieces{Lot: "L1", Serial: "S150"}, meant},
		{some, inventory.Pieces{Lot: "L1", Serial: "S200"}, not},
		{some, inventory.Pieces{Lot: "L1"}, doubt},
		{some, inventory.Pieces{Lot: "L2", Serial: "S7"}, not},
	} {
		scope := inventory.Scope{c.line}
		if err := scope.Check(); err != nil {
			t.Errorf("%s: %v", c.line.Words(), err)
			continue
		}
		if m := scope.Match(&c.p); m.Verdict != c.want || m.Why == "" && c.want != meant {
			t.Errorf("%s, of %+v: %s (%s), want %s", c.line.Words(), c.p, m.Verdict, m.Why, c.want)
		}
	}
	two := inventory.Scope{list("X"), between("A1", "A9")}
	if m := two.Match(&inventory.Pieces{Lot: "A5"}); m.Verdict != meant || m.Line != 1 {
		t.Errorf("the second of two lines means it, and the match is %+v", m)
	}
}

// What a person decided on a lot goes before what the scope says of the lot, and
// leaves what it says of serial numbers.
func TestScopeDecided(t *testing.T) {
	on := inventory.ScopedOn{
		Scope:   inventory.Scope{{Kind: inventory.ScopeLots, Lots: []string{"A01"}, Serials: []string{"S1"}}},
		Decided: []inventory.DecidedLot{{Lot: "AO1", Meant: true}, {Lot: "A0I", Meant: false}, {Lot: "OTHER", Meant: true}},
	}
	for _, c := range []struct {
		lot, serial string
		want        inventory.Verdict
		part        bool
	}{
		{"AO1", "S1", inventory.Meant, false},
		{"AO1", "S2", inventory.NotMeant, false},
		{"AO1", "", inventory.Doubtful, true},
		{"A0I", "S1", inventory.NotMeant, false},
		{"OTHER", "S9", inventory.Meant, false},
		{"A01", "", inventory.Doubtful, true},
	} {
		m := on.Match(&inventory.Pieces{Lot: c.lot, Serial: c.serial})
		if m.Verdict != c.want || m.Part != c.part {
			t.Errorf("lot %s, serial %q: %+v, want %s, part %t", c.lot, c.serial, m, c.want, c.part)
		}
	}
}

func TestScopeCheck(t *testing.T) {
	for _, c := range []struct {
		line inventory.ScopeLine
		says string
	}{
		{inventory.ScopeLine{}, "kind"},
		{inventory.ScopeLine{Kind: inventory.ScopeLots}, "0 lot numbers"},
		{inventory.ScopeLine{Kind: inventory.ScopeLots, Lots: []string{"A", ""}}, "empty"},
		{inventory.ScopeLine{Kind: inventory.ScopeAll, Lots: []string{"A"}}, "lists lots"},
		{inventory.ScopeLine{Kind: inventory.ScopeRange, From: "A1"}, "bound"},
		{inventory.ScopeLine{Kind: inventory.ScopeRange, From: "A9", To: "A1"}, "comes after"},
		{inventory.ScopeLine{Kind: inventory.ScopePattern, Pattern: "**"}, "says nothing"},
		{inventory.ScopeLine{Kind: inventory.ScopeAll, Made: inventory.Window{From: "2026-02-30"}}, "not a date"},
		{inventory.ScopeLine{Kind: inventory.ScopeAll, Made: inventory.Window{From: "2026-03-02", To: "2026-03-01"}}, "comes after"},
		{inventory.ScopeLine{Kind: inventory.ScopeAll, SerialFrom: "S1"}, "bound"},
		{inventory.ScopeLine{Kind: inventory.ScopeLots, Lots: []string{"A\x00"}}, "can't be a lot number"},
	} {
		if err := (inventory.Scope{c.line}).Check(); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%+v: %v, want something with %q", c.line, err, c.says)
		}
	}
	if err := (inventory.Scope{}).Check(); err == nil {
		t.Error("an empty scope was taken")
	}
}

// A pattern of many stars must not take longer with each of them.
func TestScopePatternCost(t *testing.T) {
	l := inventory.Scope{{Kind: inventory.ScopePattern, Pattern: strings.Repeat("*A", 45) + "B"}}
	if m := l.Match(&inventory.Pieces{Lot: strings.Repeat("A", 100)}); m.Verdict != inventory.NotMeant {
		t.Errorf("%+v", m)
	}
}
