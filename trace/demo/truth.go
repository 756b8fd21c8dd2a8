package demo

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// The form of a truth file. The number goes up with every change of meaning.
const (
	truthFormat  = "lotbook demo truth"
	truthVersion = 1
)

// A Truth is what really happened in an invented unit, written down or not. Its
// file is one JSON object, each treatment on a line of its own.
type Truth struct {
	Format  string  `json:"format"`
	Version int     `json:"version"`
	Options Options `json:"options"`
	// Head is the journal's last entry when the unit was made.
	Head Head `json:"head"`
	// Notice is a lot that suits a field notice: used over weeks.
	Notice Notice `json:"notice"`
	// CountErrors are the lines of counts that were wrong.
	CountErrors []CountError `json:"count_errors"`
	// NotWritten are pieces that went without an entry, but for those that
	// treatments used.
	NotWritten []NotWritten `json:"not_written"`
	// Left is what really lies where at the end.
	Left []Left `json:"left"`
	// Home is what was sent to home patients.
	Home []HomeSupply `json:"home,omitempty"`
	// Treatments in the order in which they were opened.
	Treatments []*Treatment `json:"treatments"`
}

// A Head is a journal's last entry, its hash in hexadecimal.
type Head struct {
	Seq  uint64 `json:"seq"`
	Hash string `json:"hash"`
}

// A Notice names lots of a product, with the GTIN of its single piece.
type Notice struct {
	Product inventory.ProductID `json:"product"`
	GTIN    string              `json:"gtin"`
	Lots    []string            `json:"lots"`
}

// A Treatment is what one treatment used.
type Treatment struct {
	ID      trace.TreatmentID `json:"id"`
	Patient trace.PatientID   `json:"patient"`
	// NotDone: the patient did not come, so that Used is empty. Open: it is
	// under way.
	NotDone bool `json:"not_done,omitempty"`
	Open    bool `json:"open,omitempty"`
	// Planned and Real are its lengths in minutes.
	Planned int64 `json:"planned,omitempty"`
	Real    int64 `json:"real,omitempty"`
	// Used holds what met the patient, by category, scanned or not.
	Used map[inventory.Category][]*Use `json:"used,omitempty"`
}

// A Use is a lot that a treatment really used.
type Use struct {
	Product inventory.ProductID `json:"product"`
	Lot     string              `json:"lot"`
	// Pieces taken from the station's place for it; 0 for a dose from a
	// vial that was opened for another treatment.
	Pieces int64     `json:"pieces"`
	At     time.Time `json:"at"`
	// Entry is the entry that records it, 0 if none does: the scan was left
	// out. NoLot: it is recorded, without the lot.
	Entry uint64 `json:"entry,omitempty"`
	NoLot bool   `json:"no_lot,omitempty"`
	// Through is the kit that it came in, or "loop" for a batch that fed the
	// station and what went into it.
	Through string `json:"through,omitempty"`
}

// A HomeSupply is what was sent to a home patient.
type HomeSupply struct {
	Patient trace.PatientID     `json:"patient"`
	Product inventory.ProductID `json:"product"`
	Lot     string              `json:"lot"`
	Pieces  int64               `json:"pieces"`
	At      time.Time           `json:"at"`
}

// A CountError is a line of a count that was wrong. Entry is the count's.
type CountError struct {
	Entry    uint64               `json:"entry"`
	Location inventory.LocationID `json:"location"`
	At       time.Time            `json:"at"`
	Product  inventory.ProductID  `json:"product"`
	Lot      string               `json:"lot"`
	There    int64                `json:"there"`
	Counted  int64                `json:"counted"`
}

// NotWritten are pieces that went from a place, or to another (To), without an
// entry.
type NotWritten struct {
	What    string               `json:"what"` // "moved", "lost", "thrown_away", "used_outside", "leaked"
	At      time.Time            `json:"at"`
	From    inventory.LocationID `json:"from"`
	To      inventory.LocationID `json:"to,omitempty"`
	Product inventory.ProductID  `json:"product"`
	Lot     string               `json:"lot"`
	Pieces  int64                `json:"pieces"`
}

// Left is what lies at a place.
type Left struct {
	Location inventory.LocationID `json:"location"`
	Product  inventory.ProductID  `json:"product"`
	Lot      string               `json:"lot"`
	Pieces   int64                `json:"pieces"`
}

// WriteTruth writes a truth file.
func WriteTruth(to io.Writer, t *Truth) error {
	head := *t
	head.Treatments = nil
	doc, err := json.Marshal(&head)
	if err != nil {
		return err
	}
	const end = "null}" // the treatments come last
	out := bufio.NewWriter(to)
	_, _ = out.Write(doc[:len(doc)-len(end)])
	_, _ = out.WriteString("[")
	for i, tr := range t.Treatments {
		if i > 0 {
			_, _ = out.WriteString(",")
		}
		line, err := json.Marshal(tr)
		if err != nil {
			return err
		}
		_, _ = out.WriteString("\n")
		_, _ = out.Write(line)
	}
	_, _ = out.WriteString("\n]}\n")
	return out.Flush() // says what any write before met
}

// ReadTruth reads what WriteTruth wrote.
func ReadTruth(from io.Reader) (*Truth, error) {
	t := new(Truth)
	if err := json.NewDecoder(from).Decode(t); err != nil {
		return nil, fmt.Errorf("truth file: %w", err)
	}
	if t.Format != truthFormat || t.Version != truthVersion {
		return nil, fmt.Errorf("truth file: it is %q version %d, not %q version %d", t.Format, t.Version, truthFormat, truthVersion)
	}
	return t, nil
}
