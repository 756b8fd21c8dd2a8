package boltstore

import (
	"fmt"
	"sort"
	"sync"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// maxProblems is how many problems a Report lists.
const maxProblems = 100

// A Place says in what part of a store a Problem is. The order is that in which
// a Report lists them: damage further up may be the cause of what is below.
type Place string

// The places of a Problem.
const (
	InFile       Place = "file"       // the whole of it, or its header
	InPage       Place = "page"       // a page of the file: Page
	InEntry      Place = "entry"      // an entry of the journal: Seq
	InCheckpoint Place = "checkpoint" // the checkpoint of an entry: Seq
	InKey        Place = "key"        // the row of a client's key: Key; Seq if known
	InIndex      Place = "index"      // a derived row: Index and Key
	InVault      Place = "vault"      // a row of the vault
)

var placeOrder = map[Place]int{InFile: 0, InPage: 1, InEntry: 2, InCheckpoint: 3, InKey: 4, InIndex: 5, InVault: 6}

// A Problem is one thing that is wrong with a store.
type Problem struct {
	Place Place           `json:"place"`
	Page  uint64          `json:"page,omitempty"`
	Seq   uint64          `json:"seq,omitempty"`
	Index inventory.Index `json:"index,omitempty"`
	// Key is a row's key, its bytes as they are.
	Key []byte `json:"key,omitempty"`
	Why string `json:"why"`
}

// Error implements the error interface.
func (p *Problem) Error() string {
	switch p.Place {
	case InPage:
		return fmt.Sprintf("page %d: %s", p.Page, p.Why)
	case InEntry, InCheckpoint:
		return fmt.Sprintf("%s %d: %s", p.Place, p.Seq, p.Why)
	case InIndex:
		return fmt.Sprintf("index %q, row %q: %s", p.Index, p.Key, p.Why)
	case InKey:
		return fmt.Sprintf("key %q: %s", p.Key, p.Why)
	}
	return fmt.Sprintf("%s: %s", p.Place, p.Why)
}

// Unwrap makes a Problem ErrDamaged.
func (p *Problem) Unwrap() error { return ErrDamaged }

// A Report is what a Verify found.
type Report struct {
	Unit  string `json:"unit"`
	Bytes int64  `json:"bytes"` // of the file
	Pages uint64 `json:"pages"` // in use or free to be used
	// Entries were read, and Head is the last one's: of the last that could
	// be read if there are problems.
	Entries     uint64       `json:"entries"`
	Head        journal.Head `json:"head"`
	Checkpoints int          `json:"checkpoints"` // of the store, and those given
	Keys        uint64       `json:"keys"`
	Secrets     int          `json:"secrets"` // rows of the vault
	// RowForm is the form of the derived rows that the store says it has, 0
	// if it says none; OtherForm is set if it is not the one asked for.
	RowForm   inventory.RowForm `json:"rowForm"`
	OtherForm bool              `json:"otherForm"`
	// Indexes and Rows were compared with those made anew; both are 0 and
	// Rebuilt is false if no Project was given, the rows have another form,
	// or the journal was wrong.
	Rebuilt  bool          `json:"rebuilt"`
	Indexes  int           `json:"indexes"`
	Rows     uint64        `json:"rows"`
	Duration time.Duration `json:"duration"`
	// Problems are the first ones, in the order of their Place and there in
	// that of entries or rows. More counts those left out.
	Problems []Problem `json:"problems"`
	More     int       `json:"more"`
}

// Err returns the first problem, nil if there is none. It is ErrDamaged.
func (r *Report) Err() error {
	if len(r.Problems) == 0 {
		return nil
	}
	return &r.Problems[0]
}

// findings gathers problems from many goroutines.
type findings struct {
	mu   sync.Mutex
	list []Problem
	more int
}

func (f *findings) add(p Problem) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.list = append(f.list, p)
	if len(f.list) > 2*maxProblems {
		f.cut()
	}
}

// any reports whether there is a problem.
func (f *findings) any() bool {
	f.mu.Lock()
	defer f.mu.Unlock()
	return len(f.list) > 0
}

// cut sorts the list and keeps its beginning.
func (f *findings) cut() {
	sort.SliceStable(f.list, func(i, j int) bool { return sooner(&f.list[i], &f.list[j]) })
	if n := len(f.list) - maxProblems; n > 0 {
		f.more += n
		f.list = f.list[:maxProblems]
	}
}

func sooner(a, b *Problem) bool {
	switch {
	case a.Place != b.Place:
		return placeOrder[a.Place] < placeOrder[b.Place]
	case a.Seq != b.Seq:
		return a.Seq < b.Seq
	case a.Index != b.Index:
		return a.Index < b.Index
	case string(a.Key) != string(b.Key):
		return string(a.Key) < string(b.Key)
	}
	return a.Page < b.Page
}
