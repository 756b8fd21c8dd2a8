package trace_test

import (
	"encoding/binary"
	"fmt"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/trace"
)

// BenchmarkDurableScan compares whole scans (the checks, the entry, its hash,
// all rows, on the disk when it returns) with the least that bbolt can do for
// a record of 1 KB and six index rows, in the same run: bare Update for one
// writer, a bare group writer for 64. It reports scans a second and the share
// of the bare figure measured just before.
func BenchmarkDurableScan(b *testing.B) {
	var bare float64
	for _, writers := range []int{1, 64} {
		b.Run(fmt.Sprintf("bare/writers=%d", writers), func(b *testing.B) {
			bare = rate(b, writers, bareWriter(b, writers > 1))
			b.ReportMetric(bare, "tx/s")
		})
		b.Run(fmt.Sprintf("scan/writers=%d", writers), func(b *testing.B) {
			scans := rate(b, writers, scanWriter(b))
			b.ReportMetric(scans, "tx/s")
			if bare > 0 {
				b.ReportMetric(scans/bare, "of-bare")
			}
		})
	}
}

// rate runs write b.N times from so many goroutines and returns how many a
// second.
func rate(b *testing.B, writers int, write func(worker, i int) error) float64 {
	var next atomic.Int64
	var wg sync.WaitGroup
	b.ResetTimer()
	start := time.Now()
	for w := range writers {
		wg.Go(func() {
			for {
				i := next.Add(1)
				if i > int64(b.N) {
					return
				}
				if err := write(w, int(i)); err != nil {
					b.Error(err)
					return
				}
			}
		})
	}
	wg.Wait()
	took := time.Since(start)
	b.StopTimer()
	return float64(b.N) / took.Seconds()
}

// bareWriter writes a record of 1 KB and six index rows of 48 bytes with
// 40-byte values, three of them appending, three at random places.
func bareWriter(b *testing.B, group bool) func(worker, i int) error {
	db, err := bolt.Open(filepath.Join(b.TempDir(), "bare.db"), 0o600, &bolt.Options{InitialMmapSize: 16 << 30, FreelistType: bolt.FreelistMapType})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = db.Close() })
	names := [][]byte{[]byte("r"), []byte("a"), []byte("b"), []byte("c"), []byte("d"), []byte("e"), []byte("f")}
	err = db.Update(func(tx *bolt.Tx) error {
		for _, n := range names {
			if _, err := tx.CreateBucket(n); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
	record, value := make([]byte, 1024), make([]byte, 40)
	put := func(tx *bolt.Tx, i int) error {
		seq := binary.BigEndian.AppendUint64(nil, uint64(i))
		if err := tx.Bucket(names[0]).Put(seq, record); err != nil {
			return err
		}
		for n, name := range names[1:] {
			k := make([]byte, 48)
			if n < 3 {
				copy(k, seq)
			} else {
				binary.BigEndian.PutUint64(k, uint64(i)*0x9e3779b97f4a7c15+uint64(n))
			}
			if err := tx.Bucket(name).Put(k, value); err != nil {
				return err
			}
		}
		return nil
	}
	if !group {
		return func(_, i int) error { return db.Update(func(tx *bolt.Tx) error { return put(tx, i) }) }
	}
	type ask struct {
		i    int
		done chan error
	}
	asks := make(chan ask, 256)
	b.Cleanup(func() { close(asks) })
	go func() {
		for a := range asks {
			batch := []ask{a}
			for more := true; more && len(batch) < 256; {
				select {
				case a, ok := <-asks:
					if more = ok; ok {
						batch = append(batch, a)
					}
				default:
					more = false
				}
			}
			err := db.Update(func(tx *bolt.Tx) error {
				for _, a := range batch {
					if err := put(tx, a.i); err != nil {
						return err
					}
				}
				return nil
			})
			for _, a := range batch {
				a.done <- err
			}
		}
	}()
	return func(_, i int) error {
		done := make(chan error, 1)
		asks <- ask{i, done}
		return <-done
	}
}

// scanWriter scans packs of a dozen lots into treatments, each worker into its
// own; a treatment gets ten and then the next one is opened, which is not
// counted.
func scanWriter(b *testing.B) func(worker, i int) error {
	store, err := boltstore.Open(b.TempDir(), boltstore.Options{Clock: time.Now})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = store.Close() })
	u := benchUnit(b, trace.NewBook(inventory.NewBook(store, registry(), time.Now)))
	type state struct {
		id trace.TreatmentID
		n  int
	}
	workers := make([]state, 64)
	return func(w, i int) error {
		s := &workers[w]
		if s.n%10 == 0 {
			rec, err := u.Open(ctx, inventory.Call{Actor: "nurse"}, trace.Opening{Patient: "P1", Station: "S1", Another: true})
			if err != nil {
				return err
			}
			s.id = trace.TreatmentID(fmt.Sprint("T", rec.Entries[0].Seq))
		}
		s.n++
		_, err := u.Scan(ctx, inventory.Call{Actor: "nurse", Key: fmt.Sprintf("scan-%d", i)}, trace.Scan{
			Treatment: s.id, How: trace.Scanned, Code: "]d201095060001000121727063010D0\x1d21S0000001",
			Stock: inventory.Stock{GTIN: gtinDialyzer, Lot: fmt.Sprint("D", i%12), Serial: fmt.Sprintf("S%07d", i), Expires: "2099-06-30"},
		})
		return err
	}
}

func benchUnit(b *testing.B, u *trace.Book) *trace.Book {
	b.Helper()
	by := inventory.Call{Actor: "admin"}
	ok := func(_ inventory.Receipt, err error) {
		if err != nil {
			b.Fatal(err)
		}
	}
	ok(u.SetLocation(ctx, by, inventory.Location{ID: "cart", Name: "Cart", Type: inventory.Cart}))
	ok(u.SetProducts(ctx, by, inventory.Product{ID: "DLZ", Name: "Dialyzer", Category: inventory.Dialyzer, Packs: []inventory.Pack{{Level: inventory.LevelEach, GTIN: gtinDialyzer, Holds: 1}}}))
	ok(u.SetMachine(ctx, by, trace.Machine{ID: "M1", Name: "Machine 1"}))
	ok(u.SetStation(ctx, by, trace.Station{ID: "S1", Name: "Station 1", Location: "cart", Machine: "M1"}))
	rx := inventory.Prescription{Access: inventory.Fistula, Minutes: 240, DialysateFlow: 500}
	ok(u.Enrol(ctx, by, trace.Enrolment{PatientSet: trace.PatientSet{ID: "P1", Name: "Invented"}, Prescription: &rx}))
	for i := range 12 {
		ok(u.Receive(ctx, by, inventory.Received{Stock: inventory.Stock{Product: "DLZ", Lot: fmt.Sprint("D", i), Expires: "2099-06-30", Quantity: 1_000_000}, To: "cart"}))
	}
	return u
}
