package trace_test

import (
	"cmp"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"lotbook/inventory"
	"lotbook/inventory/inventorytest"
	"lotbook/trace"
)

// A deed is one thing that happens in the small unit of the property, at its own
// time. What it rests on must have been written down before it.
type deed struct {
	what     string
	at       time.Time
	lot      string
	batch    trace.BatchID
	tank     trace.TankID
	into     trace.Poured
	station  trace.StationID
	patient  trace.PatientID
	of       int // the deed that it ends, draws from or strikes out
	n        int64
	restsOn  []int
	duration time.Duration
}

// The numbers of what deeds made, by the index of the deed.
type made struct {
	entries map[int]uint64
	treated map[int]trace.TreatmentID
}

func (d *deed) record(u *trace.Book, i int, m *made) error {
	by := func(at time.Time) inventory.Call { return inventory.Call{Actor: "user", Happened: at} }
	call := by(d.at)
	var rec inventory.Receipt
	var err error
	bags := inventory.Stock{Product: "BAG", Lot: d.lot, Quantity: d.n}
	switch d.what {
	case "receive":
		rec, err = u.Receive(ctx, call, inventory.Received{Stock: bags, To: "room"})
	case "mix":
		rec, err = u.Mix(ctx, call, trace.Mixing{
			BatchMade: trace.BatchMade{Batch: d.batch, Product: "MIX", Tank: d.tank, Poured: d.into, MixedBy: "Ada", CheckedBy: "Bea"},
			Inputs:    []trace.MixInput{{Stock: bags, From: "room"}},
		})
	case "feed":
		rec, err = u.Feed(ctx, call, trace.TankFed{Tank: d.tank, Stations: []trace.StationID{"S1", "S2"}})
	case "end":
		rec, err = u.EndFeed(ctx, call, d.tank, m.entries[d.of])
	case "empty":
		rec, err = u.EmptyTank(ctx, call, trace.TankEmptied{Tank: d.tank})
	case "vial":
		rec, err = u.OpenContainer(ctx, call, trace.ContainerOpened{Container: trace.ContainerID(d.batch), Stock: inventory.Stock{Product: "HEP", Lot: d.lot}, From: "cart-a"})
	case "close vial":
		rec, err = u.CloseContainer(ctx, call, trace.ContainerClosed{Container: trace.ContainerID(d.batch), How: trace.ContainerEmpty})
	case "contents":
		rec, err = u.SetKitContents(ctx, call, inventory.Stock{Product: "KIT", Lot: "K1"}, inventory.Stock{Product: "NDL", Lot: d.lot})
	case "correct":
		rec, err = u.Correct(ctx, call, m.entries[d.of], "it was wrong")
	case "lend":
		rec, err = u.Depart(ctx, call, inventory.Departed{Stock: bags, From: "room", How: inventory.HowLent, Other: "north"})
	case "take in":
		rec, err = u.Borrow(ctx, call, inventory.Borrowed{Stock: bags, To: "room", Other: "north"})
	case "send home", "fetch from home":
		from, to := inventory.LocationID("room"), inventory.LocationID("home")
		if d.what != "send home" {
			from, to = to, from
		}
		rec, err = u.Move(ctx, call, inventory.Moved{Stock: bags, From: from, To: to})
	case "treat", "treat with a kit", "treat with a can", "treat from a vial":
		return d.treat(u, i, m, by)
	default:
		err = fmt.Errorf("nothing is known of %s", d.what)
	}
	if err == nil {
		m.entries[i] = rec.Entries[0].Seq
	}
	return err
}

func (d *deed) treat(u *trace.Book, i int, m *made, by func(time.Time) inventory.Call) error {
	rec, err := u.Open(ctx, by(d.at), trace.Opening{Patient: d.patient, Station: d.station, Another: true})
	if err != nil {
		return err
	}
	ev, err := u.Registry().Decode(rec.Entries[0])
	if err != nil {
		return err
	}
	id := ev.(*trace.Opened).Treatment
	m.treated[i], m.entries[i] = id, rec.Entries[0].Seq
	scan := trace.Scan{Treatment: id, How: trace.Scanned, Reason: "as it was"}
	switch d.what {
	case "treat with a kit":
		scan.Product, scan.Lot = "KIT", "K1"
	case "treat with a can":
		scan.Product, scan.Lot = "A2K", "C1"
	case "treat from a vial":
		scan.Container = trace.ContainerID(d.batch)
	}
	if d.what != "treat" {
		if _, err := u.Scan(ctx, by(d.at.Add(time.Minute)), scan); err != nil {
			return err
		}
	}
	_, err = u.Close(ctx, by(d.at.Add(d.duration)), trace.Closing{Treatment: id})
	return err
}

// deeds draws what happens, in the order in which it happens.
func deeds(t *rapid.T) []deed {
	whats := []string{
		"receive", "mix", "mix", "mix", "feed", "end", "empty", "vial", "close vial", "contents", "correct", "lend", "take in", "send home", "fetch from home",
		"treat", "treat", "treat", "treat with a kit", "treat with a can", "treat from a vial",
	}
	ds := make([]deed, rapid.IntRange(4, 24).Draw(t, "n"))
	gone := map[int]bool{} // ended, closed or struck out
	earlier := func(what ...string) (is []int) {
		for i := range ds {
			if slices.Contains(what, ds[i].what) && !gone[i] {
				is = append(is, i)
			}
		}
		return is
	}
	for i := range ds {
		d := deed{
			what: rapid.SampledFrom(whats).Draw(t, "what"), at: start().Add(time.Duration(i) * 40 * time.Minute), lot: rapid.SampledFrom([]string{"G1", "G2", ""}).Draw(t, "lot"),
			batch: trace.BatchID(fmt.Sprintf("X%d", i)), tank: rapid.SampledFrom([]trace.TankID{"TA", "TB"}).Draw(t, "tank"),
			into: rapid.SampledFrom([]trace.Poured{"", trace.IntoEmpty, trace.OntoRest}).Draw(t, "into"), station: rapid.SampledFrom([]trace.StationID{"S1", "S2"}).Draw(t, "station"),
			patient: rapid.SampledFrom([]trace.PatientID{"P1", "P2"}).Draw(t, "patient"), n: rapid.Int64Range(1, 5).Draw(t, "pieces"), duration: 3 * time.Hour, of: -1,
		}
		need := func(what ...string) bool {
			is := earlier(what...)
			if len(is) == 0 {
				return false
			}
			d.of = rapid.SampledFrom(is).Draw(t, "of")
			d.restsOn = []int{d.of}
			d.tank, d.batch = ds[d.of].tank, ds[d.of].batch
			return true
		}
		ok := true
		switch d.what {
		case "end":
			if ok = need("feed"); ok {
				gone[d.of] = true
			}
		case "close vial":
			if ok = need("vial"); ok {
				gone[d.of] = true
			}
		case "treat from a vial":
			ok = need("vial")
		case "correct":
			if ok = need("mix", "feed", "empty", "contents", "receive", "lend"); ok {
				gone[d.of] = true
			}
		}
		if !ok {
			d.what = "treat"
		}
		ds[i] = d
	}
	return ds
}

func start() time.Time { return time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC) }

// smallUnit makes the unit of the property in a book whose clock stands after
// all that happens.
func smallUnit(t *rapid.T) (*trace.Book, func() error) {
	now := func() time.Time { return start().Add(72 * time.Hour) }
	mem := inventorytest.NewMemory(now)
	b := trace.NewBook(inventory.NewBook(mem, registry(), now))
	by := inventory.Call{Actor: "admin", Happened: start().Add(-48 * time.Hour)}
	ok := func(_ inventory.Receipt, err error) {
		if err != nil {
			t.Fatal(err)
		}
	}
	acid := inventory.Facts{MixSystem: inventory.Mix45X, Potassium: 2000, Calcium: 1250, IonsKnown: true, FillVolume: 5000}
	ok(b.SetProducts(ctx, by,
		inventory.Product{ID: "DLZ", Name: "Dialyzer", Category: inventory.Dialyzer},
		inventory.Product{ID: "BLS", Name: "Bloodline set", Category: inventory.BloodlineSet},
		inventory.Product{ID: "NDL", Name: "Needle", Category: inventory.FistulaNeedle},
		inventory.Product{ID: "A2K", Name: "Acid", Category: inventory.AcidConcentrate, Facts: acid},
		inventory.Product{ID: "MIX", Name: "Acid, mixed", Category: inventory.AcidConcentrate, Facts: inventory.Facts{MixSystem: acid.MixSystem, Potassium: acid.Potassium, Calcium: acid.Calcium, IonsKnown: true}},
		inventory.Product{ID: "BAG", Name: "Bag", Category: inventory.OtherCategory},
		inventory.Product{ID: "HEP", Name: "Heparin", Category: inventory.Heparin, Facts: inventory.Facts{Shared: true, FillVolume: 10, UnitsPerML: 1000}},
		inventory.Product{ID: "KIT", Name: "Kit", Category: inventory.BloodlineSet, Components: []inventory.Component{{Product: "NDL", Pieces: 2}}},
	))
	ok(b.SetUnit(ctx, by, inventory.DefaultUnit()))
	for _, p := range []trace.PatientID{"P1", "P2"} {
		ok(b.SetPatient(ctx, by, trace.PatientSet{ID: p, Name: string(p)}))
		ok(b.SetPrescription(ctx, by, trace.PrescriptionSet{Patient: p, Prescription: prescription()}))
	}
	for _, l := range []inventory.Location{
		{ID: "room", Name: "Room", Type: inventory.SupplyRoom},
		{ID: "cart-a", Name: "Cart", Type: inventory.Cart},
		{ID: "north", Name: "Unit North", Type: inventory.OtherUnit},
		{ID: "home", Name: "Home", Type: inventory.HomeStore, Patient: "P2"},
	} {
		ok(b.SetLocation(ctx, by, l))
	}
	ok(b.SetMachine(ctx, by, trace.Machine{ID: "M1", Name: "Machine"}))
	for _, s := range []trace.StationID{"S1", "S2"} {
		ok(b.SetStation(ctx, by, trace.Station{ID: s, Name: string(s), Location: "cart-a", Machine: "M1"}))
	}
	for _, k := range []trace.TankID{"TA", "TB"} {
		ok(b.SetTank(ctx, by, trace.Tank{ID: k, Name: string(k)}))
	}
	for _, s := range []inventory.Stock{{Product: "HEP", Lot: "G1", Quantity: 9}, {Product: "HEP", Lot: "G2", Quantity: 9}, {Product: "KIT", Lot: "K1", Quantity: 9}, {Product: "A2K", Lot: "C1", Quantity: 9}} {
		ok(b.Receive(ctx, by, inventory.Received{Stock: s, To: "cart-a"}))
	}
	return b, mem.Close
}

// A conclusion is what answers about all lots say in the end, without the
// numbers of entries and treatments.
type conclusion map[string][]string

func concludeOn(t *rapid.T, b *trace.Book, ds []deed, m *made) conclusion {
	index := map[trace.TreatmentID]int{}
	for i, id := range m.treated {
		index[id] = i
	}
	out := conclusion{}
	ask := []inventory.Lot{{Product: "A2K", Number: "C1"}, {Product: "KIT", Number: "K1"}, {Product: "NDL", Number: "G1"}, {Product: "NDL", Number: "G2"}}
	for _, p := range []inventory.ProductID{"BAG", "HEP"} {
		ask = append(ask, inventory.Lot{Product: p, Number: "G1"}, inventory.Lot{Product: p, Number: "G2"})
	}
	for i := range ds {
		if ds[i].what == "mix" {
			ask = append(ask, inventory.Lot{Product: "MIX", Number: string(ds[i].batch)})
		}
	}
	for _, l := range ask {
		a, err := b.Exposures(ctx, trace.Question{Product: string(l.Product), Lot: l.Number})
		if err != nil {
			t.Fatal(err)
		}
		if a.Mass.In() != a.Mass.Out() {
			t.Errorf("%v: the mass balance does not close: %+v", l, a.Mass)
		}
		var lines []string
		add := func(x *trace.Exposure) error {
			via := ""
			if x.Via != nil {
				via = x.Via.String()
			}
			lines = append(lines, fmt.Sprintf("treatment %d: %s via %q, %s", index[x.Treatment], x.Grade, via, x.Why))
			return nil
		}
		if err := b.EachConfirmed(ctx, a, add); err != nil {
			t.Fatal(err)
		}
		for i := range a.Unrecorded {
			_ = add(&a.Unrecorded[i]) // never fails
		}
		for _, h := range a.Homes {
			lines = append(lines, fmt.Sprintf("home %s: %s %d %d %d", h.Patient, h.Grade, h.Supplied, h.Returned, h.Used))
		}
		lines = append(lines, fmt.Sprintf("mass %+v, lent %v, mixed %d, opened %d, excluded %v", a.Mass, a.Lent, a.Mixed, a.Opened, a.Excluded))
		slices.Sort(lines)
		out[fmt.Sprint(l)] = lines
	}
	return out
}

// TestLateIsAsInTime: whatever is mixed, poured, fed, opened, lent and struck
// out, and in whatever order it is written down, the answers are the same.
func TestLateIsAsInTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ds := deeds(t)
		play := func(order []int) conclusion {
			b, shut := smallUnit(t)
			m := &made{map[int]uint64{}, map[int]trace.TreatmentID{}}
			for _, i := range order {
				if err := ds[i].record(b, i, m); err != nil {
					t.Fatalf("deed %d, %s: %v", i, ds[i].what, err)
				}
			}
			out := concludeOn(t, b, ds, m)
			if err := shut(); err != nil {
				t.Fatal(err)
			}
			return out
		}
		inTime := make([]int, len(ds))
		for i := range inTime {
			inTime[i] = i
		}
		// A late order: shuffled, each behind what it rests on.
		key := map[int]int{}
		for i, at := range rapid.Permutation(inTime).Draw(t, "order") {
			key[at] = i * 100
		}
		for i := range ds {
			for _, of := range ds[i].restsOn {
				key[i] = max(key[i], key[of]+1)
			}
		}
		late := slices.Clone(inTime)
		slices.SortFunc(late, func(a, b int) int { return cmp.Or(cmp.Compare(key[a], key[b]), cmp.Compare(a, b)) })
		want, got := play(inTime), play(late)
		for _, l := range slices.Sorted(maps.Keys(want)) {
			if !reflect.DeepEqual(got[l], want[l]) {
				t.Errorf("%s\nlate, %v:\n%v\nin time:\n%v", l, late, got[l], want[l])
			}
		}
	})
}
