package demo

import (
	"fmt"
	"math"

	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/trace"
)

// A Person is one of the unit's staff: who signs in, and the author of entries.
type Person struct {
	ID   account.UserID
	Name string
	Role account.Role
}

// Staff returns the invented unit's people.
func Staff() []Person {
	return []Person{
		{"nurse.avelo", "Avelo Mockridge", account.Nurse},
		{"nurse.brinna", "Brinna Testwell", account.Nurse},
		{"nurse.cosmer", "Cosmer Samplesen", account.Nurse},
		{"nurse.delphi", "Delphi Pretendi", account.Nurse},
		{"nurse.ellory", "Ellory Fictrova", account.Nurse},
		{"nurse.fenwin", "Fenwin Dummont", account.Nurse},
		{"stock.garro", "Garro Standinn", account.Stock},
		{"stock.hestia", "Hestia Placehold", account.Stock},
		{"quality.ivorne", "Ivorne Exempla", account.Quality},
		{"admin.jessame", "Jessame Specimann", account.Administrator},
	}
}

const (
	administrator = "admin.jessame"
	officer       = "quality.ivorne"
	clerk         = "stock.garro"
	clerkEvening  = "stock.hestia"
	nurses        = 6
)

// nurse returns who works at a bay in a shift of a day.
func nurse(day, shift, bay int) string { return string(Staff()[(day+2*shift+bay)%nurses].ID) }

var (
	givenNames  = []string{"Avelo", "Brinna", "Cosmer", "Delphi", "Ellory", "Fenwin", "Garro", "Hestia", "Ivorne", "Jessame", "Korbin", "Lumina", "Merrick", "Nelvia", "Orsino", "Pellam", "Quenby", "Rosalba", "Sorrel", "Tamsen"}
	familyNames = []string{"Testwell", "Samplesen", "Mockridge", "Fictrova", "Dummont", "Pretendi", "Exempla", "Placehold", "Specimann", "Standinn", "Makebelow", "Fabelmann", "Noxample", "Imagino", "Erfunden", "Supposa", "Trialby"}
)

// A patient has a station and a shift on alternate working days.
type patient struct {
	id      trace.PatientID
	name    string
	rx      inventory.Prescription
	pattern int // which of the alternate days
	shift   int // from 1
	station *station
	// since is the first day, gone and back the days of an absence: see away.
	since, gone, back inventory.Date
}

// A station is a chair.
type station struct {
	id      trace.StationID
	machine trace.MachineID
	bay     int
	place   int // in the bay
	cart    *shelf
}

// occupancy is the share of places in the schedule that are taken.
const occupancy = 0.85

// admit invents the patients: for each place of the schedule there is one, or
// it stays empty.
func (w *world) admit() {
	names := w.rng.Perm(len(givenNames) * len(familyNames))
	for pattern := range min(2, w.o.DaysAWeek) {
		for shift := 1; shift <= w.o.Shifts; shift++ {
			for _, st := range w.stations {
				if !w.chance(occupancy) {
					continue
				}
				n := len(w.patients)
				k := names[n%len(names)]
				p := &patient{
					id:      trace.PatientID(fmt.Sprintf("P%04d", 1001+n)),
					name:    givenNames[k%len(givenNames)] + " " + familyNames[k/len(givenNames)],
					rx:      w.prescribe(),
					pattern: pattern, shift: shift, station: st,
				}
				w.patients = append(w.patients, p)
			}
		}
	}
}

// prescribe invents a prescription; the shares are plausible, no source.
func (w *world) prescribe() inventory.Prescription {
	some := func(x float64, list ...float64) int {
		for i, p := range list {
			if x -= p; x < 0 {
				return i
			}
		}
		return len(list)
	}
	rx := inventory.Prescription{Products: map[inventory.Category]inventory.ProductID{}}
	rx.Products[inventory.Dialyzer] = []inventory.ProductID{dialyzer14, dialyzer18, dialyzer21}[some(w.rng.Float64(), .25, .5)]
	rx.Products[inventory.BloodlineSet] = []inventory.ProductID{linesWith, linesWithout}[some(w.rng.Float64(), .6)]
	rx.Products[inventory.AcidConcentrate] = []inventory.ProductID{acidK1, acidK2, acidK3}[some(w.rng.Float64(), .15, .6)]
	rx.MixSystem = inventory.Mix45X
	rx.Access = []inventory.Access{inventory.Fistula, inventory.Graft, inventory.Catheter}[some(w.rng.Float64(), .6, .1)]
	if rx.Access == inventory.Catheter {
		rx.Products[inventory.AccessPack] = packCatheter
	} else {
		rx.Products[inventory.FistulaNeedle] = []inventory.ProductID{needle15, needle16}[some(w.rng.Float64(), .7)]
		rx.SingleNeedle = w.chance(.04)
	}
	rx.Minutes = pick[int64](w, 210, 225, 240, 240, 240, 255)
	rx.BloodFlow = pick[int64](w, 300, 320, 350, 380, 400)
	switch some(w.rng.Float64(), .45, .12, .06, .2, .12) {
	case 0:
		rx.DialysateFlow = 500
	case 1:
		rx.DialysateFlow = 600
	case 2:
		rx.DialysateFlow = 800
	case 3:
		rx.FlowFactor = 1200
	case 4:
		rx.FlowFactor = 1500
	default:
		rx.FlowFactor = 1800
	}
	switch some(w.rng.Float64(), .68, .17) {
	case 0:
		rx.Heparin = &inventory.HeparinDose{Bolus: pick[int64](w, 1000, 1500, 2000), Rate: pick[int64](w, 500, 800, 1000), StopEarly: pick[int64](w, 30, 60)}
	case 1:
		rx.Heparin = &inventory.HeparinDose{Bolus: pick[int64](w, 2000, 2500, 3000)}
		rx.Products[inventory.Heparin] = prefilled
	}
	return rx
}

// pace works out what the unit uses of each good in a week.
func (w *world) pace() error {
	for _, g := range w.goods {
		g.week = 0
	}
	days := [2]float64{float64((w.o.DaysAWeek + 1) / 2), float64(w.o.DaysAWeek / 2)}
	for _, p := range w.patients {
		if p.away(inventory.DateOf(w.now, w.zone)) {
			continue
		}
		xs, err := w.unit.Expect(&p.rx, p.rx.Minutes, w.product)
		if err != nil {
			return err
		}
		for i := range xs {
			n := float64(xs[i].Pieces)
			if xs[i].Shared {
				n = math.Max(0.5, float64(xs[i].Volume)/8000)
			}
			w.good(xs[i].Product).week += n * days[p.pattern]
		}
		w.good(strips).week += 2 * days[p.pattern]
		w.good(disinfectant).week += 0.2 * days[p.pattern]
	}
	return nil
}

func (w *world) product(id inventory.ProductID) (*inventory.Product, error) {
	return &w.good(id).Product, nil
}
