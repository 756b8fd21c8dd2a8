package inventory

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"maps"
	"slices"

	"lotbook/inventory/journal"
)

// A RowForm tells forms of derived rows apart: what a program derives from a
// journal is the same as what another does if their numbers are. 0 is that of
// rows of which nothing is known.
type RowForm uint32

// String writes the form as it is told to people.
func (f RowForm) String() string {
	if f == 0 {
		return "unknown"
	}
	return fmt.Sprintf("%08x", uint32(f))
}

// A Derivation says how derived rows follow from the entries of a journal, and
// which form they then have.
type Derivation struct {
	Form RowForm
	// Project writes the rows of an entry; it is called for each in order.
	Project func(Writer, journal.Entry) error
}

// Derivation returns how this Registry's rows are made again. Its form depends
// on the names of the kinds and on rows, a fingerprint of what they derive that
// changes whenever that does: a new kind may come with rows of its own.
//
// Its Project refuses what Project would pass over: a member of a body that
// this program does not know. A newer one wrote it, whose rows are replaced
// here, and they may have held what it says.
func (g *Registry) Derivation(rows string) Derivation {
	h := sha256.New()
	for _, s := range append(slices.Sorted(maps.Keys(g.kinds)), rows) {
		h.Write(binary.BigEndian.AppendUint32(nil, uint32(len(s))))
		h.Write([]byte(s))
	}
	form := RowForm(binary.BigEndian.Uint32(h.Sum(nil)))
	return Derivation{Form: max(form, 1), Project: g.projectKnown}
}

func (g *Registry) projectKnown(w Writer, e journal.Entry) error {
	ev, err := g.Decode(e)
	if err != nil {
		return err
	}
	strict := json.NewDecoder(bytes.NewReader(e.Body))
	strict.DisallowUnknownFields()
	if err := strict.Decode(g.kinds[e.Kind]()); err != nil {
		return fmt.Errorf("entry %d (%s): %w", e.Seq, e.Kind, err)
	}
	return g.project(w, e, ev)
}
