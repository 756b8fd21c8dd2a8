package demo

import (
	"context"
	"fmt"
	"strconv"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// A Long is a journal of many treatments in which nothing is left to chance: for
// measuring what an answer costs in a small journal and in a large one. It has
// three carts, 18 stations, and 45 treatments a day in three shifts; each lot
// comes in so many pieces as the treatments of its turn use.
type Long struct {
	Treatments int
	// Goods is how many products each treatment uses a piece of, 1 to 5.
	Goods int
	// Lots are the pieces of the lots, one lot after the other, over and over.
	Lots []int
	// Unscanned has each so manyth treatment use its pieces without a word, 0
	// for none.
	Unscanned int
	// Counted has each cart counted at the end of each shift; otherwise
	// nobody ever counts.
	Counted bool
}

// LongOf is a Long of one product in which lots of 2,500 and of 100 pieces take
// turns, each 50th piece is not scanned, and each cart is counted after each
// shift: for answers about lots.
func LongOf(treatments int) Long {
	o := Long{Treatments: treatments, Goods: 1, Lots: []int{2500}, Unscanned: 50, Counted: true}
	for range 25 {
		o.Lots = append(o.Lots, 100)
	}
	return o
}

// Middle returns the number of a lot of 2,500 or of 100 pieces of a LongOf, in
// the middle of its time.
func (o *Long) Middle(uses int) string {
	at := o.Treatments / 10_000 * 5_000 // where a turn begins: first the lot of 2,500
	if uses == 100 {
		at += 3000
	}
	lot, _ := o.LotOf(at)
	return lot
}

// Name is for a folder in which its journal is kept.
func (o *Long) Name() string {
	return fmt.Sprintf("long-%d-%d-%d-%d-%v", o.Treatments, o.Goods, len(o.Lots), o.Unscanned, o.Counted)
}

// LongFirst is the first day of a Long.
const LongFirst inventory.Date = "1960-01-04"

// The shape of a Long's days.
const (
	longCarts    = 3
	longStations = 18
	longPatients = 90
	longAShift   = 15
	longShifts   = 3
	longADay     = longAShift * longShifts
	longMinutes  = 240
	longClosed   = 5 * time.Hour // after its start a shift is counted
)

// longGoods are what a Long's treatments use.
func longGoods(n int) []inventory.Product {
	all := []inventory.Product{
		{ID: "DLZ", Name: "Dialyzer", Category: inventory.Dialyzer},
		{ID: "BLS", Name: "Bloodline set", Category: inventory.BloodlineSet},
		{ID: "ACD", Name: "Acid concentrate", Category: inventory.AcidConcentrate},
		{ID: "BIC", Name: "Bicarbonate", Category: inventory.Bicarbonate},
		{ID: "SAL", Name: "Saline", Category: inventory.Saline},
	}
	return all[:n]
}

// LotOf returns the number of the lot that treatment n uses, the first being 0,
// and n's place in its turn.
func (o *Long) LotOf(n int) (number string, at int) {
	cycle := 0
	for _, size := range o.Lots {
		cycle += size
	}
	lot := n / cycle * len(o.Lots)
	at = n % cycle
	for _, size := range o.Lots {
		if at < size {
			break
		}
		at -= size
		lot++
	}
	return fmt.Sprintf("L%06d", lot), at
}

// pieces returns how many treatments use the lot of treatment n, from it on.
func (o *Long) pieces(n int) int {
	lot, _ := o.LotOf(n)
	for end := n + 1; ; end++ {
		if next, _ := o.LotOf(end); next != lot || end == o.Treatments {
			return end - n
		}
	}
}

// longPlace returns the cart and the station of treatment n.
func longPlace(n int) (cart, station int) {
	place := n % longADay % longAShift
	return place % longCarts, place%longCarts*(longStations/longCarts) + place/longCarts
}

// MakeLong records it in an empty book whose clock is the Clock.
func MakeLong(ctx context.Context, book *trace.Book, clock *Clock, o Long) error {
	l := &longWorld{ctx: ctx, book: book, clock: clock, o: o, goods: longGoods(o.Goods), by: inventory.Call{Actor: "nurse"}}
	if err := l.setUp(); err != nil {
		return fmt.Errorf("a long journal: setting up: %w", err)
	}
	for n := range o.Treatments {
		if err := l.treat(n); err != nil {
			return fmt.Errorf("a long journal: treatment %d: %w", n, err)
		}
	}
	return nil
}

type longWorld struct {
	ctx   context.Context
	book  *trace.Book
	clock *Clock
	o     Long
	goods []inventory.Product
	unit  inventory.Unit
	by    inventory.Call
	open  []trace.TreatmentID // of the shift
	lot   string
	left  [longCarts]int64 // of each good
}

func (l *longWorld) setUp() error {
	l.clock.set(clockTime(LongFirst, 0, 0, time.UTC))
	if _, err := l.book.SetProducts(l.ctx, l.by, l.goods...); err != nil {
		return err
	}
	l.unit = inventory.DefaultUnit()
	l.unit.Rules.Needs, l.unit.Defaults = nil, map[inventory.Category]inventory.ProductID{}
	for _, g := range l.goods {
		l.unit.Rules.Needs = append(l.unit.Rules.Needs, inventory.Need{Category: g.Category, By: inventory.NeedCount, Fistula: 1, Graft: 1, Catheter: 1, Scan: true})
		l.unit.Defaults[g.Category] = g.ID
	}
	if _, err := l.book.SetUnit(l.ctx, l.by, l.unit); err != nil {
		return err
	}
	for i := range longCarts {
		if _, err := l.book.SetLocation(l.ctx, l.by, inventory.Location{ID: longCart(i), Name: "Cart " + strconv.Itoa(i), Type: inventory.Cart}); err != nil {
			return err
		}
	}
	for i := range longStations {
		id := strconv.Itoa(i)
		m := trace.Machine{ID: trace.MachineID("M" + id), Name: "Machine " + id}
		if _, err := l.book.SetMachine(l.ctx, l.by, m); err != nil {
			return err
		}
		st := trace.Station{ID: trace.StationID("S" + id), Name: "Station " + id, Location: longCart(i / (longStations / longCarts)), Machine: m.ID}
		if _, err := l.book.SetStation(l.ctx, l.by, st); err != nil {
			return err
		}
	}
	rx := inventory.Prescription{Access: inventory.Fistula, Minutes: longMinutes, DialysateFlow: 500}
	var people []trace.Enrolment
	for i := range longPatients {
		id := longPatient(i)
		people = append(people, trace.Enrolment{PatientSet: trace.PatientSet{ID: id, Name: "Invented " + string(id)}, Prescription: &rx})
	}
	_, err := l.book.Enrol(l.ctx, l.by, people...)
	return err
}

func longCart(i int) inventory.LocationID { return inventory.LocationID("cart-" + strconv.Itoa(i)) }

func longPatient(i int) trace.PatientID { return trace.PatientID(fmt.Sprintf("P%03d", i)) }

// treat brings the next lot, if it is its turn, treats, and has the carts
// counted after the last treatment of a shift.
func (l *longWorld) treat(n int) error {
	shift := inventory.Shift{Date: LongFirst.AddDays(n / longADay), Number: n%longADay/longAShift + 1}
	place := n % longADay % longAShift
	from, _, err := l.unit.Window(shift)
	if err != nil {
		return err
	}
	l.clock.set(from.Add(time.Duration(5+place) * time.Minute))
	number, at := l.o.LotOf(n)
	if l.lot = number; at == 0 {
		if err := l.deliver(n); err != nil {
			return err
		}
	}
	cart, station := longPlace(n)
	receipt, err := l.book.Open(l.ctx, l.by, trace.Opening{Patient: longPatient(n % longPatients), Station: trace.StationID("S" + strconv.Itoa(station))})
	if err != nil {
		return err
	}
	id := trace.TreatmentID("T" + strconv.FormatUint(receipt.Entries[0].Seq, 10))
	l.left[cart]--
	if l.o.Unscanned == 0 || n%l.o.Unscanned != l.o.Unscanned-1 {
		for _, g := range l.goods {
			scan := trace.Scan{Treatment: id, How: trace.Scanned, Stock: inventory.Stock{Product: g.ID, Lot: number, Quantity: 1}}
			if _, err := l.book.Scan(l.ctx, l.by, scan); err != nil {
				return err
			}
		}
	}
	l.open = append(l.open, id)
	if place != longAShift-1 && n != l.o.Treatments-1 {
		return nil
	}
	l.clock.set(from.Add((longMinutes + 30) * time.Minute))
	for _, id := range l.open {
		if _, err := l.book.Close(l.ctx, l.by, trace.Closing{Treatment: id, Minutes: longMinutes}); err != nil {
			return err
		}
	}
	l.open = l.open[:0]
	if !l.o.Counted {
		return nil
	}
	return l.count(shift, from.Add(longClosed))
}

// deliver brings to each cart what the treatments of a lot's turn take from it.
func (l *longWorld) deliver(n int) error {
	var pieces [longCarts]int64
	for i := range l.o.pieces(n) {
		cart, _ := longPlace(n + i)
		pieces[cart]++
	}
	var lines []inventory.Received
	for cart, p := range pieces {
		l.left[cart] += p
		for _, g := range l.goods {
			if p > 0 {
				stock := inventory.Stock{Product: g.ID, Lot: l.lot, Expires: "2099-12-31", Quantity: p}
				lines = append(lines, inventory.Received{Stock: stock, To: longCart(cart)})
			}
		}
	}
	_, err := l.book.Receive(l.ctx, l.by, lines...)
	return err
}

func (l *longWorld) count(shift inventory.Shift, at time.Time) error {
	l.clock.set(at)
	for cart, left := range l.left {
		c := inventory.Counted{Location: longCart(cart), Complete: true, Shift: &shift}
		for _, g := range l.goods {
			c.Lines = append(c.Lines, inventory.CountLine{Product: g.ID, Lot: l.lot, Counted: left})
		}
		if _, err := l.book.Count(l.ctx, l.by, c); err != nil {
			return err
		}
	}
	return nil
}
