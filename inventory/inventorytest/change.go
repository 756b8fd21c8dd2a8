package inventorytest

import (
	"encoding/json"
	"fmt"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// An Op is one change of a row.
type Op struct {
	Index  inventory.Index `json:"index"`
	Key    []byte          `json:"key"`
	Value  []byte          `json:"value,omitempty"`
	Delete bool            `json:"delete,omitempty"`
}

// Put returns the Op that sets a row.
func Put(ix inventory.Index, key, value string) Op {
	return Op{Index: ix, Key: []byte(key), Value: []byte(value)}
}

// Delete returns the Op that removes a row.
func Delete(ix inventory.Index, key string) Op {
	return Op{Index: ix, Key: []byte(key), Delete: true}
}

// Change returns a draft whose body says which rows it changes, so that they
// can be derived again from the entry.
func Change(ops ...Op) inventory.Draft {
	body, err := json.Marshal(ops)
	if err != nil {
		panic(err) // strings and bytes only
	}
	return inventory.Draft{Kind: "test.changed", Body: body, Rows: Project}
}

// Project makes the rows of an entry that was made by Change. An entry of
// another kind has none.
func Project(w inventory.Writer, e journal.Entry) error {
	if e.Kind != "test.changed" {
		return nil
	}
	var ops []Op
	if err := json.Unmarshal(e.Body, &ops); err != nil {
		return fmt.Errorf("entry %d: %w", e.Seq, err)
	}
	for _, op := range ops {
		if op.Delete {
			if err := w.Delete(op.Index, op.Key); err != nil {
				return err
			}
		} else if err := w.Put(op.Index, op.Key, op.Value); err != nil {
			return err
		}
	}
	return nil
}

// Drafts returns a Decide that always returns the same drafts.
func Drafts(d ...inventory.Draft) func(inventory.Reader) ([]inventory.Draft, error) {
	return func(inventory.Reader) ([]inventory.Draft, error) { return d, nil }
}
