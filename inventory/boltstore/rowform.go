package boltstore

import (
	"encoding/binary"
	"errors"
	"fmt"

	bolt "go.etcd.io/bbolt"

	"lotbook/inventory"
)

// metaRows is the row of the bucket "meta" that holds the form of the derived
// rows, and then a checksum over it. A store without it has rows of a form that
// is not known, which is 0.
const metaRows = "rows"

// readRowForm returns the form of a store's derived rows.
func readRowForm(tx *bolt.Tx) (inventory.RowForm, error) {
	v := tx.Bucket([]byte(metaBucket)).Get([]byte(metaRows))
	switch {
	case v == nil:
		return 0, nil
	case len(v) != 4+checksumLen || string(v[4:]) != string(checksum(v[:4])):
		return 0, fmt.Errorf("%w: the form of its rows can't be read", ErrDamaged)
	}
	return inventory.RowForm(binary.BigEndian.Uint32(v)), nil
}

// writeRowForm notes the form of the derived rows. Form 0 has no row.
func writeRowForm(tx *bolt.Tx, form inventory.RowForm) error {
	meta := tx.Bucket([]byte(metaBucket))
	if form == 0 {
		return meta.Delete([]byte(metaRows))
	}
	v := binary.BigEndian.AppendUint32(nil, uint32(form))
	return meta.Put([]byte(metaRows), append(v, checksum(v)...))
}

// errOtherForm says that the derived rows have another form than the program's.
var errOtherForm = errors.New("the derived rows have another form than this program's")

// checkRowForm returns errOtherForm unless the rows have the form wanted.
func checkRowForm(tx *bolt.Tx, want inventory.Derivation) error {
	if want.Project == nil {
		return nil
	}
	form, err := readRowForm(tx)
	if err == nil && form != want.Form {
		err = errOtherForm
	}
	return err
}
