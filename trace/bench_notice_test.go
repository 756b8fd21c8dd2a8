package trace_test

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
	"lotbook/reports"
	"lotbook/reports/xlsx"
	"lotbook/trace"
	"lotbook/trace/demo"
	"lotbook/trace/notice"
)

// noticesOver opens a copy of a journal of treatments in which notices can be
// written down. It is copied on the first call.
func noticesOver(b *testing.B, o demo.Long) *notice.Book {
	b.Helper()
	openLong(b, o) // makes it
	from := filepath.Join(benchDir(b), o.Name())
	dir := from + "-notices"
	if _, err := os.Stat(filepath.Join(dir, boltstore.FileName)); err != nil {
		if err := copyStore(dir, from); err != nil {
			b.Fatal(err)
		}
	}
	c := &clock{time.Date(2060, 1, 1, 0, 0, 0, 0, time.UTC)}
	store, err := boltstore.Open(dir, boltstore.Options{Clock: c.now, NoSync: true})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { store.Close() })
	reg := inventory.NewRegistry(inventory.Events(), trace.Events(), notice.Events())
	return notice.NewBook(trace.NewBook(inventory.NewBook(store, reg, c.now)))
}

func copyStore(dir, from string) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	in, err := os.Open(filepath.Join(from, boltstore.FileName))
	if err != nil {
		return err
	}
	defer in.Close()
	part, err := os.Create(filepath.Join(dir, "part"))
	if err != nil {
		return err
	}
	if _, err := io.Copy(part, in); err != nil {
		return err
	}
	if err := part.Close(); err != nil {
		return err
	}
	return os.Rename(part.Name(), filepath.Join(dir, boltstore.FileName))
}

// noticeOn writes a notice on the lots of some treatments' turns.
func noticeOn(b *testing.B, n *notice.Book, lots []string) notice.ID {
	b.Helper()
	rec, err := n.Write(ctx, inventory.Call{Actor: "officer"}, notice.Writing{Another: true, Version: notice.Version{
		Reference: "FSN-1", Issuer: "Invented Maker", Received: "2060-01-01",
		Lines: []notice.Line{{Product: "DLZ", Scope: inventory.Scope{{Kind: inventory.ScopeLots, Lots: lots}}}},
	}})
	if err != nil {
		b.Fatal(err)
	}
	ev, err := n.Registry().Decode(rec.Entries[0])
	if err != nil {
		b.Fatal(err)
	}
	return ev.(*notice.VersionWritten).Notice
}

// BenchmarkNotice answers notices: on one lot with 2,500 uses, and on 56 lots of
// 100 uses and one of them of 2,500; then draws the unit's workbook; then keeps a
// reply, answer and all.
func BenchmarkNotice(b *testing.B) {
	for _, n := range []int{10_000, 100_000, 1_000_000} {
		o := demo.LongOf(n)
		at := n / 10_000 * 5000 // where a turn begins: first the lot of 2,500, then 25 of 100
		large, _ := o.LotOf(at)
		lots := []string{large}
		for turn := at; len(lots) < 56 && turn >= 0; turn -= 5000 {
			for i := 0; i < 25 && len(lots) < 56; i++ {
				number, _ := o.LotOf(turn + 2500 + i*100)
				lots = append(lots, number)
			}
		}
		for _, c := range []struct {
			name string
			lots []string
		}{{"lots=1", lots[:1]}, {"lots=56", lots}} {
			if len(c.lots) != 1 && len(c.lots) != 56 {
				continue // a journal this small has fewer lots
			}
			b.Run(fmt.Sprintf("treatments=%d/%s", n, c.name), func(b *testing.B) {
				book := noticesOver(b, o)
				id := noticeOn(b, book, c.lots)
				benchNotice(b, book, id, len(c.lots))
			})
		}
	}
}

func benchNotice(b *testing.B, book *notice.Book, id notice.ID, lots int) {
	var a *notice.Answer
	b.Run("answer", func(b *testing.B) {
		b.ReportAllocs()
		before, rounds := processor(b), 0
		for b.Loop() {
			rounds++
			var err error
			if a, err = book.Answer(ctx, id, 0); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64((processor(b)-before).Microseconds())/1000/float64(rounds), "cpu-ms/op")
		if len(a.Lots) != lots || len(a.Treatments) < 2450 || a.Mass.In() != a.Mass.Out() || a.Undecided != 0 {
			b.Fatalf("%d lots, %d treatments, %+v", len(a.Lots), len(a.Treatments), a.Mass)
		}
	})
	b.Run("workbook", func(b *testing.B) {
		dir := b.TempDir()
		before, rounds := processor(b), 0
		for b.Loop() {
			rounds++
			a, err := book.Answer(ctx, id, 0)
			if err != nil {
				b.Fatal(err)
			}
			var file bytes.Buffer
			wb := reports.NoticeAnswer(a, reports.Asked{By: "officer", At: a.At, Unit: "Invented unit"})
			if err := xlsx.Write(ctx, &file, wb, xlsx.Options{TempDir: dir}); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64((processor(b)-before).Microseconds())/1000/float64(rounds), "cpu-ms/op")
	})
	b.Run("reply", func(b *testing.B) {
		words := notice.ReplyWords{Sent: "by post", Adverse: notice.AdverseNone, Signer: "Quill Invented", Role: "Quality officer"}
		var rec inventory.Receipt
		for b.Loop() {
			var err error
			if rec, err = book.Reply(ctx, inventory.Call{Actor: "officer"}, notice.Replying{Notice: id, ReplyWords: words}); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(len(rec.Entries[0].Body)), "entry-bytes")
		k, err := book.Replied(ctx, id, 0)
		if err != nil {
			b.Fatal(err)
		}
		if k.Answer.Sum() != a.Sum() {
			b.Fatal("what was kept is not what was answered")
		}
	})
}
