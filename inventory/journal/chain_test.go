package journal_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"lotbook/inventory/journal"
)

// A link is an entry in its stored form.
type link struct {
	canonical []byte
	sum       journal.Hash
}

// forge makes a link of an entry with the hash that its bytes have.
func forge(e journal.Entry) link {
	b := e.AppendCanonical(nil)
	return link{b, journal.Sum(b)}
}

// chain makes a journal from how many parts each request has.
func chain(parts []int) []link {
	var links []link
	now := time.Date(2027, 3, 31, 6, 0, 0, 0, time.UTC)
	var head journal.Head
	for i, n := range parts {
		for p := range n {
			l := forge(journal.Entry{
				Seq: head.Seq + 1, Recorded: now, Happened: now, Actor: "u7", Kind: "test.said",
				Key: fmt.Sprint("k", i), Part: p, Parts: n, Prev: head.Hash, Body: []byte(fmt.Sprint(i, p)),
			})
			head = journal.Head{Seq: head.Seq + 1, Hash: l.sum}
			links = append(links, l)
		}
		now = now.Add(time.Duration(i%3) * time.Second)
	}
	return links
}

// check runs links through c to the end.
func check(c *journal.Chain, links []link) error {
	for _, l := range links {
		if _, err := c.Next(l.canonical, l.sum); err != nil {
			return err
		}
	}
	return c.End()
}

// wantProblem says at which entry the check must stop, and why.
func wantProblem(t *testing.T, err error, seq uint64, why string) {
	t.Helper()
	var p *journal.Problem
	if !errors.As(err, &p) || p.Seq != seq || !strings.Contains(p.Why, why) {
		t.Errorf("problem %v, want one at entry %d: %s", err, seq, why)
	}
}

func TestChainWhole(t *testing.T) {
	links := chain([]int{1, 3, 1, 2, 1})
	c := new(journal.Chain)
	if err := check(c, links); err != nil {
		t.Fatal(err)
	}
	if want := (journal.Head{Seq: 8, Hash: links[7].sum}); c.Head() != want {
		t.Errorf("head %v, want %v", c.Head(), want)
	}
	for i := range links {
		c, err := journal.ResumeAfter(links[i].canonical, links[i].sum)
		if err != nil {
			t.Fatal(err)
		}
		if err := check(c, links[i+1:]); err != nil {
			t.Errorf("resumed after entry %d: %v", i+1, err)
		}
		if err := check(journal.Resume(journal.Head{Seq: uint64(i + 1), Hash: links[i].sum}), links[i+1:]); err != nil {
			t.Errorf("resumed at head %d: %v", i+1, err)
		}
	}
}

// TestChainNames: each way of changing a journal is named at the first entry
// that is wrong.
func TestChainNames(t *testing.T) {
	parse := func(l link) journal.Entry {
		e, err := journal.Parse(l.canonical)
		if err != nil {
			t.Fatal(err)
		}
		return e
	}
	edit := func(l link, fn func(*journal.Entry)) link {
		e := parse(l)
		fn(&e)
		return forge(e)
	}
	for _, c := range []struct {
		name   string
		change func(l []link) []link
		seq    uint64
		why    string
	}{
		{"body changed", func(l []link) []link { l[3].canonical[len(l[3].canonical)-1] ^= 1; return l }, 4, "do not have the hash"},
		{"hash changed", func(l []link) []link { l[3].sum[31] ^= 1; return l }, 4, "do not have the hash"},
		{"rewritten with its hash", func(l []link) []link {
			l[3] = edit(l[3], func(e *journal.Entry) { e.Body = []byte("other") })
			return l
		}, 5, "does not follow from entry 4"},
		{"dropped", func(l []link) []link { return slices.Delete(l, 3, 4) }, 4, "says that it is entry 5"},
		{"twice", func(l []link) []link { return slices.Insert(l, 4, l[3]) }, 5, "says that it is entry 4"},
		{"swapped", func(l []link) []link { l[3], l[4] = l[4], l[3]; return l }, 4, "says that it is entry 5"},
		{"first dropped", func(l []link) []link { return l[1:] }, 1, "says that it is entry 2"},
		{"not an entry", func(l []link) []link { l[3] = link{[]byte("x"), journal.Sum([]byte("x"))}; return l }, 4, "not an entry"},
		{"recorded earlier", func(l []link) []link {
			l[7] = edit(l[7], func(e *journal.Entry) { e.Recorded = e.Recorded.Add(-time.Hour) })
			return l
		}, 8, "recorded before entry 7"},
		{"last cut off", func(l []link) []link { return l[:6] }, 7, "missing"},
		{"part out of range", func(l []link) []link {
			l[7] = edit(l[7], func(e *journal.Entry) { e.Part = 1 })
			return l
		}, 8, "part 1 of 1"},
		{"no parts", func(l []link) []link { l[7] = edit(l[7], func(e *journal.Entry) { e.Parts = 0 }); return l }, 8, "part 0 of 0"},
		{"a part of another request", func(l []link) []link {
			l[6] = edit(l[6], func(e *journal.Entry) { e.Key = "other" })
			return l
		}, 7, "this is not the next"},
		{"a new request too early", func(l []link) []link {
			l[6] = edit(l[6], func(e *journal.Entry) { e.Part, e.Parts = 0, 1 })
			return l
		}, 7, "this is not the next"},
		{"a beginning missing", func(l []link) []link {
			l[7] = edit(l[7], func(e *journal.Entry) { e.Part, e.Parts = 1, 2 })
			return l
		}, 8, "beginning is missing"},
		{"the first beginning missing", func(l []link) []link {
			l[0] = edit(l[0], func(e *journal.Entry) { e.Part, e.Parts = 1, 2 })
			return l
		}, 1, "beginning is missing"},
	} {
		t.Run(c.name, func(t *testing.T) {
			wantProblem(t, check(new(journal.Chain), c.change(chain([]int{1, 3, 1, 2, 1}))), c.seq, c.why)
		})
	}
}

func TestAgrees(t *testing.T) {
	links := chain([]int{1, 1, 1})
	note := journal.Checkpoint{Seq: 2, Hash: links[1].sum}
	c := new(journal.Chain)
	for _, l := range links {
		if _, err := c.Next(l.canonical, l.sum); err != nil {
			t.Fatal(err)
		}
		if err := c.Agrees(note); err != nil {
			t.Error(err)
		}
		wrong := note
		wrong.Hash[0] ^= 1
		if err := c.Agrees(wrong); (err != nil) != (c.Head().Seq == 2) {
			t.Errorf("at entry %d a wrong note of entry 2: %v", c.Head().Seq, err)
		}
	}
}

// TestChainProperty: a chain takes what was appended and nothing else, whatever
// bit is changed.
func TestChainProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		links := chain(rapid.SliceOfN(rapid.IntRange(1, 4), 1, 12).Draw(t, "parts"))
		if err := check(new(journal.Chain), links); err != nil {
			t.Fatal(err)
		}
		i := rapid.IntRange(0, len(links)-1).Draw(t, "entry")
		l := &links[i]
		at := rapid.IntRange(0, len(l.canonical)*8+255).Draw(t, "bit")
		if at < 256 {
			l.sum[at/8] ^= 1 << (at % 8)
		} else {
			at -= 256
			l.canonical[at/8] ^= 1 << (at % 8)
		}
		var p *journal.Problem
		if err := check(new(journal.Chain), links); !errors.As(err, &p) || p.Seq != uint64(i+1) {
			t.Fatalf("a changed bit in entry %d: %v", i+1, err)
		}
	})
}

// BenchmarkChain checks a chain of entries of 1 KB: SHA-256 and nothing much
// besides.
func BenchmarkChain(b *testing.B) {
	var links []link
	var head journal.Head
	for range 10_000 {
		l := forge(journal.Entry{
			Seq: head.Seq + 1, Actor: "u7", Kind: "stock.received", Key: "0123456789abcdef", Parts: 1,
			Prev: head.Hash, Body: make([]byte, 900),
		})
		head = journal.Head{Seq: head.Seq + 1, Hash: l.sum}
		links = append(links, l)
	}
	size := int64(len(links[0].canonical))
	b.Run("entry", func(b *testing.B) {
		b.SetBytes(size)
		b.ReportAllocs()
		c := new(journal.Chain)
		for i := 0; b.Loop(); i = (i + 1) % len(links) {
			if i == 0 {
				c = new(journal.Chain)
			}
			if _, err := c.Next(links[i].canonical, links[i].sum); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("sha256", func(b *testing.B) {
		b.SetBytes(size)
		for i := 0; b.Loop(); i = (i + 1) % len(links) {
			if journal.Sum(links[i].canonical) != links[i].sum {
				b.Fatal("wrong sum")
			}
		}
	})
}
