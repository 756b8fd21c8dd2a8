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

// A Chain checks entries one after the other. The zero Chain stands before the
// first entry.
type Chain struct {
	head Head
	last Entry // without its Body; zero if only its hash is known
}

// Resume returns a Chain that has seen everything up to head. What it can't
// compare then is the next entry's Recorded and Part with those of the entry
// before: for that, use ResumeAfter.
func Resume(head Head) *Chain { return &Chain{head: head} }

// ResumeAfter returns a Chain that has seen everything up to an entry, given in
// its stored form, so that a long journal can be checked in several parts at a
// time. It returns an error that wraps ErrMalformed if that isn't one, and
// takes the hash on trust: the part that ends with the entry checks it.
func ResumeAfter(canonical []byte, stored Hash) (*Chain, error) {
	e, err := Parse(canonical)
	if err != nil {
		return nil, err
	}
	e.Body = nil
	return &Chain{head: Head{Seq: e.Seq, Hash: stored}, last: e}, nil
}

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
	case c.last.Seq != 0 && e.Recorded.Before(c.last.Recorded):
		return bad("it was recorded before entry %d", c.head.Seq)
	case e.Parts < 1 || e.Part >= e.Parts:
		return bad("it is part %d of %d", e.Part, e.Parts)
	case e.Part != 0 && c.head.Seq == 0:
		return bad("it is part %d of a request whose beginning is missing", e.Part)
	case c.last.Seq == 0: // no more is known of the entry before
	case c.open() && !follows(&c.last, &e):
		return bad("entry %d is part %d of %d and this is not the next", c.head.Seq, c.last.Part, c.last.Parts)
	case !c.open() && e.Part != 0:
		return bad("it is part %d of a request whose beginning is missing", e.Part)
	}
	c.head = Head{Seq: want, Hash: sum}
	c.last = e
	c.last.Body = nil
	return e, nil
}

// open reports whether the last entry's request has further parts.
func (c *Chain) open() bool { return c.last.Seq != 0 && c.last.Part+1 < c.last.Parts }

// follows reports whether b is the part after a of the same request.
func follows(a, b *Entry) bool {
	return b.Part == a.Part+1 && b.Parts == a.Parts &&
		b.Actor == a.Actor && b.Key == a.Key && b.Digest == a.Digest
}

// End says whether the journal may end here: a request is written whole or not
// at all, so an entry that is not its request's last was cut off.
func (c *Chain) End() error {
	if c.open() {
		return &Problem{Seq: c.head.Seq + 1, Why: fmt.Sprintf(
			"it is missing: entry %d is part %d of %d, and the journal ends with it", c.head.Seq, c.last.Part, c.last.Parts)}
	}
	return nil
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
