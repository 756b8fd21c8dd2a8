package inventory

import (
	"bytes"
	"context"

	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// A RowKey stands for a row of a list and all rows above it: two files have a
// row of the same key only if they are the same up to there.
type RowKey [16]byte

// Imported says which rows of a file the entries recorded with it are. A long
// list is recorded in parts, each with an entry of this kind, so that a file
// that was taken in part is gone on with where it was left.
type Imported struct {
	List string `json:"list"`
	// File is its name, Sum the SHA-256 of its content.
	File string       `json:"file"`
	Sum  journal.Hash `json:"sum"`
	// Run counts the times that the file was taken in on purpose, from 1.
	Run uint64 `json:"run"`
	// After is the journal's last entry from before this run.
	After uint64 `json:"after"`
	// Rows are the keys of the rows, one behind the other.
	Rows []byte `json:"rows,omitempty"`
	// Last is set when the whole file was gone through.
	Last bool `json:"last,omitempty"`
}

// Kind implements Event.
func (*Imported) Kind() string { return "list.imported" }

// Project implements Event.
func (v *Imported) Project(w Writer, _ journal.Entry) error {
	s, err := ImportOf(w, v.List, v.Sum)
	if err != nil {
		return err
	}
	for i := 0; i+len(RowKey{}) <= len(v.Rows); i += len(RowKey{}) {
		s.End = RowKey(v.Rows[i:])
		if err := w.Put(ixImportRow, importRowKey(v.List, s.End, v.Sum), rowcode.AppendNumber(nil, v.Run)); err != nil {
			return err
		}
	}
	row := rowcode.NewEnc(1, 48)
	row.Uint(v.Run)
	row.Uint(v.After)
	row.Flag(v.Last)
	row.Blob(s.End[:])
	return w.Put(ixImport, importKey(v.List, v.Sum), row.Bytes())
}

func importKey(list string, sum journal.Hash) []byte {
	return append(rowcode.AppendText(nil, list), sum[:]...)
}

func importRowKey(list string, k RowKey, sum journal.Hash) []byte {
	return append(append(rowcode.AppendText(nil, list), k[:]...), sum[:]...)
}

// An ImportState is how far a file was taken in.
type ImportState struct {
	// Run is 0 for a file that never was.
	Run   uint64
	After uint64
	Last  bool
	// End is the key of the last row that was taken.
	End RowKey
}

// ImportOf returns how far a file of that content was taken in.
func ImportOf(r Reader, list string, sum journal.Hash) (ImportState, error) {
	row, err := r.Get(ixImport, importKey(list, sum))
	if err != nil || row == nil {
		return ImportState{}, err
	}
	d := rowcode.NewDec(1, row)
	s := ImportState{Run: d.Uint(), After: d.Uint(), Last: d.Flag()}
	copy(s.End[:], d.Blob())
	return s, d.Err()
}

// EverImported reports whether any file of a list was taken in.
func EverImported(r Reader, list string) (ever bool, err error) {
	err = r.Scan(ixImport, rowcode.AppendText(nil, list), nil, func(_, _ []byte) error {
		ever = true
		return ErrStop
	})
	return ever, err
}

// NoteImport records an Imported by itself: a file that ends with rows which
// were not taken.
func (b *Book) NoteImport(ctx context.Context, call Call, v Imported) (Receipt, error) {
	return b.Record(ctx, call, v, func(Reader) ([]Event, error) { return []Event{&v}, nil })
}

// A RowTaken is a file of which a row was taken, and in which of its runs.
type RowTaken struct {
	Sum journal.Hash
	Run uint64
}

// RowTakenFrom returns the files from which a row was taken.
func RowTakenFrom(r Reader, list string, k RowKey) (files []RowTaken, err error) {
	prefix := append(rowcode.AppendText(nil, list), k[:]...)
	err = r.Scan(ixImportRow, prefix, nil, func(key, row []byte) error {
		n := rowcode.ReadKey(row)
		t := RowTaken{Run: n.Number()}
		copy(t.Sum[:], bytes.TrimPrefix(key, prefix))
		files = append(files, t)
		return n.Err()
	})
	return files, err
}
