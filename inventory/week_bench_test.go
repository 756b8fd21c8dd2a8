package inventory_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
)

// BenchmarkLateReceipts takes in receipts that came before so many weeks in each
// of which twenty pieces of the product were used there: what a receipt costs
// must not grow with the weeks. Some lots were counted in between.
func BenchmarkLateReceipts(b *testing.B) {
	for _, weeks := range []int{16, 64, 256} {
		b.Run(fmt.Sprint(weeks, "weeks"), func(b *testing.B) { lateReceipts(b, weeks) })
	}
}

func lateReceipts(b *testing.B, weeks int) {
	ctx := context.Background()
	begin := time.Date(2019, 1, 7, 8, 0, 0, 0, time.UTC)
	clock := func() time.Time { return begin.AddDate(0, 0, 7*(weeks+2)) }
	s, err := boltstore.Open(b.TempDir(), boltstore.Options{Clock: clock, NoSync: true})
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	book := inventory.NewBook(s, inventory.NewRegistry(inventory.Events()), clock)
	must := func(_ inventory.Receipt, err error) {
		if err != nil {
			b.Fatal(err)
		}
	}
	by := func(at time.Time) inventory.Call { return inventory.Call{Actor: "user-1", Happened: at} }
	must(book.SetProducts(ctx, by(begin), inventory.Product{ID: "DLZ", Name: "Dialyzer", Category: inventory.Dialyzer}))
	must(book.SetLocation(ctx, by(begin), inventory.Location{ID: "room", Name: "Room", Type: inventory.SupplyRoom}))
	lot := func(i int) string { return fmt.Sprint("L", i%200) }
	for w := range weeks {
		at := begin.AddDate(0, 0, 7*(w+1))
		for i := range 20 {
			must(book.Consume(ctx, by(at.Add(time.Duration(i)*time.Hour)), inventory.Consumed{Stock: inventory.Stock{Product: "DLZ", Lot: lot(20*w + i), Quantity: 1}, From: "room"}))
		}
		must(book.Count(ctx, by(at.Add(90*time.Hour)), inventory.Counted{Location: "room", Lines: []inventory.CountLine{{Product: "DLZ", Lot: lot(7 * w), Counted: 3}}}))
	}
	n := 0
	for b.Loop() {
		rows := make([]inventory.ArrivalRow, 100)
		for i := range rows {
			rows[i] = inventory.ArrivalRow{Received: inventory.Received{Stock: inventory.Stock{Product: "DLZ", Lot: lot(n), Quantity: 5}, To: "room"}, At: begin.Add(time.Duration(n%5000) * time.Minute)}
			n++
		}
		must(book.ReceiveList(ctx, by(time.Time{}), inventory.ArrivalRules{Again: true}, rows...))
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "receipts/s")
}
