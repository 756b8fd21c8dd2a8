package inventory

import (
	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// Corrected strikes out an entry that was wrong. The entry stays in the
// journal, and is shown as struck out wherever it would have counted. What is
// true instead is recorded by entries of its own, often in the same request.
type Corrected struct {
	Corrects uint64 `json:"corrects"`
	Reason   string `json:"reason"`
}

// Kind implements Event.
func (*Corrected) Kind() string { return "entry.corrected" }

// Project implements Event. The Registry has struck out the entry before.
func (c *Corrected) Project(w Writer, e journal.Entry) error {
	return w.Put(ixStruck, rowcode.AppendNumber(nil, c.Corrects), rowcode.AppendNumber(nil, e.Seq))
}

// StruckBy returns the number of the correction that struck out an entry, 0 if
// it stands.
func StruckBy(r Reader, seq uint64) (uint64, error) {
	row, err := r.Get(ixStruck, rowcode.AppendNumber(nil, seq))
	if err != nil || row == nil {
		return 0, err
	}
	k := rowcode.ReadKey(row)
	n := k.Number()
	return n, k.Err()
}
