package inventory_test

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"lotbook/inventory"
)

const firstDay = inventory.Date("2026-03-01")

// laid draws lots with and without an expiry date, and what two places use.
func laid(t *rapid.T, places []inventory.LocationID) (lots []inventory.LaidLot, use map[inventory.LocationID][]int64) {
	for i := range rapid.IntRange(0, 5).Draw(t, "lots") {
		l := inventory.LaidLot{Location: rapid.SampledFrom(places).Draw(t, "place")}
		l.Lot = inventory.Lot{Product: "SAL", Number: fmt.Sprint(i)}
		l.Quantity, l.Standing = rapid.Int64Range(1, 6).Draw(t, "pieces"), inventory.StandsToTake
		if day := rapid.IntRange(-1, 7).Draw(t, "expires"); day >= 0 {
			l.Expires = firstDay.AddDays(day)
		}
		lots = append(lots, l)
	}
	use = map[inventory.LocationID][]int64{}
	for _, p := range places[:len(places)-1] { // the last is a store
		use[p] = rapid.SliceOfN(rapid.Int64Range(0, 3), 7, 7).Draw(t, "use")
	}
	return lots, use
}

func paceOf(places []inventory.LocationID, use map[inventory.LocationID][]int64) inventory.Pace {
	return inventory.Pace{From: firstDay, Places: places[:len(places)-1], Use: func(p inventory.LocationID, day int) int64 { return use[p][day%7] }}
}

// pieces plays a pace piece by piece, in the plainest way: each place in turn
// takes what it needs, one piece at a time, the first to expire of its own and
// then of the store's. With any order of lots; by is how they are ranked.
func pieces(lots []inventory.LaidLot, places []inventory.LocationID, use map[inventory.LocationID][]int64, days int, rank []int) (left []int64, short inventory.Date) {
	left = make([]int64, len(lots))
	for i := range lots {
		left[i] = lots[i].Quantity
	}
	store := places[len(places)-1]
	for day := range days {
		date := firstDay.AddDays(day)
		for _, p := range places[:len(places)-1] {
			for range use[p][day%7] {
				took := false
				for _, from := range []inventory.LocationID{p, store} {
					for _, i := range rank {
						if !took && left[i] > 0 && lots[i].Location == from && (lots[i].Expires == "" || lots[i].Expires >= date) {
							left[i]--
							took = true
						}
					}
				}
				if !took && short == "" {
					short = date
				}
			}
		}
	}
	return left, short
}

func byExpiry(lots []inventory.LaidLot) []int {
	rank := make([]int, len(lots))
	for i := range rank {
		rank[i] = i
	}
	slices.SortStableFunc(rank, func(a, b int) int {
		x, y := lots[a].Expires, lots[b].Expires
		switch {
		case x == y:
			return 0
		case y == "" || (x != "" && x < y):
			return -1
		}
		return 1
	})
	return rank
}

// What UseUp leaves over, and the first day on which a piece is lacking, are what
// the plainest play by the same rule gives; and no order of taking the lots of one
// place leaves over less than the first expired first.
func TestUseUpAgainstPieces(t *testing.T) {
	places := []inventory.LocationID{"cart-a", "cart-b", "room"}
	rapid.Check(t, func(t *rapid.T) {
		lots, use := laid(t, places)
		pace := paceOf(places, use)
		const days = 400 // longer than anything lasts
		left, short := pieces(lots, places, use, days, byExpiry(lots))
		played := slices.Clone(lots)
		got := pace.UseUp(played)
		if got != short {
			t.Fatalf("short on %q, by the piece on %q", got, short)
		}
		for i := range played {
			l := &played[i]
			if l.Expires != "" && l.Left != left[i] {
				t.Errorf("lot %d: %d left over, by the piece %d", i, l.Left, left[i])
			}
			if l.Out != "" && (l.First == "" || l.Out < l.First || (l.Expires != "" && l.Out > l.Expires)) {
				t.Errorf("lot %d: from %s to %s, expires %s", i, l.First, l.Out, l.Expires)
			}
		}
	})
	one := []inventory.LocationID{"cart-a", "room"}
	rapid.Check(t, func(t *rapid.T) {
		lots, use := laid(t, one)
		for i := range lots {
			lots[i].Location = "cart-a"
		}
		pace := paceOf(one, use)
		played := slices.Clone(lots)
		pace.UseUp(played)
		var least int64
		for i := range played {
			least += played[i].Left
		}
		rank := rapid.Permutation(byExpiry(lots)).Draw(t, "another order")
		left, _ := pieces(lots, one, use, 400, rank)
		var other int64
		for i := range lots {
			if lots[i].Expires != "" {
				other += left[i]
			}
		}
		if other < least {
			t.Errorf("in the order %v %d are left over, first expired first %d", rank, other, least)
		}
	})
}
