package boltstore_test

import (
	"context"
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/inventory/journal"
)

// What the benchmarks append: an entry of about 1 KB with six rows, as a scan
// into a treatment has them. Two of the rows have keys that only grow, one is
// one of 200 that are written again and again, three lie anywhere.

const benchBody = 850 // and 150 for the rest of the entry

// benchRows writes the rows of an entry; they depend on its number only.
func benchRows(put func(ix inventory.Index, key, value []byte) error, seq uint64) error {
	grows := binary.BigEndian.AppendUint64(nil, seq)
	anywhere := func(salt uint64, of uint64) []byte {
		mixed := (seq + salt) * 0x9E3779B97F4A7C15 // Fibonacci hashing
		return append(binary.BigEndian.AppendUint64(nil, mixed%of), grows...)
	}
	value := make([]byte, 48)
	for _, row := range []struct {
		ix  inventory.Index
		key []byte
	}{
		{"time", grows},
		{"treatment", append([]byte("T"), grows...)},
		{"lot", anywhere(1, 500)},
		{"patient", anywhere(2, 120)},
		{"place", anywhere(3, 20)},
		{"balance", anywhere(4, 200)[:8]},
	} {
		if err := put(row.ix, row.key, value); err != nil {
			return err
		}
	}
	return nil
}

func benchProject(w inventory.Writer, e journal.Entry) error { return benchRows(w.Put, e.Seq) }

func benchRequest(key string) inventory.Request {
	return inventory.Request{Actor: "user-1", Key: key, Decide: func(inventory.Reader) ([]inventory.Draft, error) {
		return []inventory.Draft{{Kind: "treatment.item.used", Body: make([]byte, benchBody), Rows: benchProject}}, nil
	}}
}

// benchFill makes a store with n entries.
func benchFill(b *testing.B, n int) (dir string) {
	b.Helper()
	dir = b.TempDir()
	s, err := boltstore.Open(dir, boltstore.Options{Clock: time.Now, NoSync: true, Bulk: 2000})
	if err != nil {
		b.Fatal(err)
	}
	for i := range n {
		if _, err := s.Append(context.Background(), benchRequest(fmt.Sprint("before-", i))); err != nil {
			b.Fatal(err)
		}
	}
	closeStore(b, s)
	return dir
}

// benchWriters shares b.N calls among so many goroutines and reports how many
// were done a second.
func benchWriters(b *testing.B, writers int, fn func(i int64) error) {
	b.Helper()
	var next atomic.Int64
	var wg sync.WaitGroup
	b.ResetTimer()
	for range writers {
		wg.Go(func() {
			for i := next.Add(1); i <= int64(b.N); i = next.Add(1) {
				if err := fn(i); err != nil {
					b.Error(err)
					return
				}
			}
		})
	}
	wg.Wait()
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "appends/s")
}

// benchPut puts what a benchRequest becomes, by bbolt alone.
func benchPut(tx *bolt.Tx, seq uint64) error {
	entry, key := make([]byte, benchBody+150), binary.BigEndian.AppendUint64(nil, seq)
	if err := tx.Bucket([]byte(boltstore.EntriesBucket)).Put(key, entry); err != nil {
		return err
	}
	return benchRows(func(ix inventory.Index, key, value []byte) error {
		return tx.Bucket([]byte(boltstore.IndexPrefix+ix)).Put(key, value)
	}, seq)
}

// BenchmarkAppend makes appends durable in a store that holds 50,000 already,
// beside what they can be held against in the same run: the same bytes appended
// to a plain file and flushed, and the same entry and rows put by bbolt's own
// Update (1 writer) and Batch with a delay of 1 ms (64), without a chain, keys
// or checks.
func BenchmarkAppend(b *testing.B) {
	const before = 50_000
	for _, writers := range []int{1, 64} {
		b.Run(fmt.Sprintf("store/writers=%d", writers), func(b *testing.B) {
			s, err := boltstore.Open(benchFill(b, before), boltstore.Options{Clock: time.Now})
			if err != nil {
				b.Fatal(err)
			}
			defer closeStore(b, s)
			benchWriters(b, writers, func(i int64) error {
				_, err := s.Append(context.Background(), benchRequest(fmt.Sprint("key-", i)))
				return err
			})
		})
	}
	for _, writers := range []int{1, 64} {
		b.Run(fmt.Sprintf("bbolt/writers=%d", writers), func(b *testing.B) {
			db, err := bolt.Open(filepath.Join(benchFill(b, before), boltstore.FileName), 0o600,
				&bolt.Options{PageSize: 4096, InitialMmapSize: 1 << 34, FreelistType: bolt.FreelistMapType})
			if err != nil {
				b.Fatal(err)
			}
			defer db.Close()
			commit := db.Update
			if writers > 1 {
				db.MaxBatchDelay = time.Millisecond
				commit = db.Batch
			}
			benchWriters(b, writers, func(i int64) error {
				return commit(func(tx *bolt.Tx) error { return benchPut(tx, uint64(before+i)) })
			})
		})
	}
	b.Run("file/writers=1", func(b *testing.B) {
		f, err := os.Create(filepath.Join(b.TempDir(), "floor"))
		if err != nil {
			b.Fatal(err)
		}
		defer f.Close()
		record := make([]byte, benchBody+150)
		benchWriters(b, 1, func(int64) error {
			if _, err := f.Write(record); err != nil {
				return err
			}
			return f.Sync()
		})
	})
}

// BenchmarkWhole does what goes over a whole store of 200,000 entries and
// 1,000,000 rows and more: checking it, with and without its indexes, making
// its rows again, backing it up, and compacting it.
func BenchmarkWhole(b *testing.B) {
	const entries = 200_000
	dir := benchFill(b, entries)
	info, err := os.Stat(filepath.Join(dir, boltstore.FileName))
	if err != nil {
		b.Fatal(err)
	}
	report := func(b *testing.B) {
		b.SetBytes(info.Size())
		b.ReportMetric(float64(entries)*float64(b.N)/b.Elapsed().Seconds(), "entries/s")
	}
	for name, project := range map[string]func(inventory.Writer, journal.Entry) error{"chain": nil, "all": benchProject} {
		b.Run("verify="+name, func(b *testing.B) {
			for b.Loop() {
				r, err := boltstore.Verify(context.Background(), dir, boltstore.VerifyOptions{Project: project})
				if err != nil || r.Err() != nil || r.Entries != entries || r.Rebuilt != (project != nil) {
					b.Fatal(r, err)
				}
			}
			report(b)
		})
	}
	b.Run("rows", func(b *testing.B) {
		for i := 0; b.Loop(); i++ {
			rows := inventory.Derivation{Form: inventory.RowForm(1 + i%2), Project: benchProject}
			s, err := boltstore.Open(dir, boltstore.Options{Clock: time.Now, Rows: rows})
			if err != nil {
				b.Fatal(err)
			}
			closeStore(b, s)
		}
		report(b)
	})
	b.Run("backup", func(b *testing.B) {
		s, err := boltstore.Open(dir, boltstore.Options{Clock: time.Now})
		if err != nil {
			b.Fatal(err)
		}
		defer closeStore(b, s)
		for b.Loop() {
			f, err := os.Create(filepath.Join(b.TempDir(), "copy"))
			if err != nil {
				b.Fatal(err)
			}
			if _, err := s.Backup(context.Background(), f); err != nil {
				b.Fatal(err)
			}
			if err := f.Sync(); err != nil {
				b.Fatal(err)
			}
			_ = f.Close()
		}
		report(b)
	})
	b.Run("compact", func(b *testing.B) {
		var sizes boltstore.Sizes
		first := int64(0)
		for b.Loop() {
			if sizes, err = boltstore.Compact(context.Background(), dir); err != nil {
				b.Fatal(err)
			}
			first = max(first, sizes.Before)
		}
		b.ReportMetric(float64(sizes.After)/float64(first), "after/before")
		report(b)
	})
}
