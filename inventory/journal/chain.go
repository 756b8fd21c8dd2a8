package journal

import "fmt"

// A Head is the last entry of a journal: its sequence number and its hash.
// The zero Head is that of an empty journal.
type Head struct {
	Seq  uint64 `json:"seq"`
	Hash Hash   `json:"hash"`
}

// A Checkpoint is a head noted at some time, here or elsewhere: on paper, in a
// workbook, with a backup.
type Checkpoint = Head

// A Problem is what is wrong with an entry of a chain. Seq is the entry's
// place in the journal.
type Problem struct {
	Seq uint64
	Why string
}

// Error implements the error interface.
func (p *Problem) Error() string { return fmt.Sprintf("entry %d: %s", p.Seq, p.Why) }

// A Chain checks entries one after the other.
type Chain struct {
	head Head
	last Entry
}

// Resume returns a Chain that has seen everything up to head, so that a long
// journal can be checked in several parts at a time. The first entry's
// Recorded can't be compared then.
func Resume(head Head) *Chain { return &Chain{head: head} }

// Next takes the stored form of the next entry: its canonical bytes and the
// hash stored beside them. It returns the entry, or a *Problem that names it.
func (c *Chain) Next(canonical []byte, stored Hash) (Entry, error) {
	want := c.head.Seq + 1
	bad := func(format string, args ...any) (Entry, error) {
		return Entry{}, &Problem{Seq: want, Why: fmt.Sprintf(format, args...)}
	}
	sum := Sum(canonical)
	if sum != stored {
		return bad("its bytes do not have the hash stored with it")
	}
	e, err := Parse(canonical)
	if err != nil {
		return bad("%v", err)
	}
	switch {
	case e.Seq != want:
		return bad("it says that it is entry %d", e.Seq)
	case e.Prev != c.head.Hash:
		return bad("it does not follow from entry %d: the chain is broken between them", c.head.Seq)
	case !c.last.Recorded.IsZero() && e.Recorded.Before(c.last.Recorded):
		return bad("it was recorded before entry %d", c.head.Seq)
	case e.Parts < 1 || e.Part >= e.Parts:
		return bad("it is part %d of %d", e.Part, e.Parts)
	case c.last.Seq != 0 && c.last.Part+1 < c.last.Parts && (e.Part != c.last.Part+1 || e.Parts != c.last.Parts):
		return bad("entry %d has %d parts and this is not the next", c.head.Seq, c.last.Parts)
	}
	c.head = Head{Seq: want, Hash: sum}
	c.last = e
	return e, nil
}

// Head returns the head of what has been seen.
func (c *Chain) Head() Head { return c.head }

// Agrees reports whether a checkpoint noted elsewhere lies on this chain; it
// can say so only at the moment when the chain's head has reached it.
func (c *Chain) Agrees(p Checkpoint) error {
	if c.head.Seq == p.Seq && c.head.Hash != p.Hash {
		return &Problem{Seq: p.Seq, Why: "its hash is not the one that was noted: " + p.Hash.String()}
	}
	return nil
}
