package boltstore

import (
	"encoding/binary"
	"hash/crc32"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// FileName is the name of the store's one file in its folder.
const FileName = "lotbook.db"

// FormatVersion is the version of the format that this program writes.
// FORMAT.md says what changed with each.
const FormatVersion = 1

// CheckpointEvery is the distance between two checkpoint rows, in entries.
const CheckpointEvery = 4096

// magic is the value of the row "magic" in the bucket "meta".
const magic = "lotbook store\n"

// The buckets at the top of the file. An index's bucket is called indexPrefix
// and then the index's name.
const (
	metaBucket       = "meta"
	entriesBucket    = "entries"
	keysBucket       = "keys"
	checkpointBucket = "checkpoints"
	vaultBucket      = "vault"
	indexPrefix      = "ix/"
)

// The rows of the bucket "meta".
const (
	metaMagic   = "magic"
	metaVersion = "version"
	metaUnit    = "unit"
	metaSum     = "sum"
)

// pageSize is the size of the file's pages in bytes.
const pageSize = 4096

// The limits of a request. The key's is the contract's; an actor's id shares a
// row's key with it, and bbolt takes 32,768 bytes for that.
const (
	maxKey   = 200
	maxActor = 1024
	maxKind  = 200
	maxParts = 65535
	maxBody  = 64 << 20
)

// seqKey is an entry's key in "entries" and "checkpoints".
func seqKey(seq uint64) (k [8]byte) {
	binary.BigEndian.PutUint64(k[:], seq)
	return k
}

// appendKeyKey appends the key of the row that holds a client's key: the
// actor's length in two bytes, the actor, the client's key.
func appendKeyKey(b []byte, actor, key string) []byte {
	b = binary.BigEndian.AppendUint16(b, uint16(len(actor)))
	b = append(b, actor...)
	return append(b, key...)
}

// keyRow is the value of such a row: the request's first entry and how many
// entries it has.
type keyRow struct {
	seq   uint64
	parts int
}

const keyRowLen = 10

func (r keyRow) append(b []byte) []byte {
	b = binary.BigEndian.AppendUint64(b, r.seq)
	return binary.BigEndian.AppendUint16(b, uint16(r.parts))
}

func parseKeyRow(b []byte) (keyRow, bool) {
	if len(b) != keyRowLen {
		return keyRow{}, false
	}
	return keyRow{seq: binary.BigEndian.Uint64(b), parts: int(binary.BigEndian.Uint16(b[8:]))}, true
}

// splitStored takes an entry's stored value apart: its hash, then its
// canonical bytes.
func splitStored(v []byte) (sum journal.Hash, canonical []byte, ok bool) {
	if len(v) < len(sum) {
		return sum, nil, false
	}
	copy(sum[:], v)
	return sum, v[len(sum):], true
}

func indexBucket(ix inventory.Index) []byte { return append([]byte(indexPrefix), ix...) }

// checksum guards what no hash of the journal covers, the vault and the
// store's own rows, against decay of the disk: CRC-32C (RFC 3720, B.4) over the
// parts, each after its length in four bytes.
func checksum(parts ...[]byte) []byte {
	table := crc32.MakeTable(crc32.Castagnoli)
	var sum uint32
	for _, p := range parts {
		sum = crc32.Update(sum, table, binary.BigEndian.AppendUint32(nil, uint32(len(p))))
		sum = crc32.Update(sum, table, p)
	}
	return binary.BigEndian.AppendUint32(nil, sum)
}

const checksumLen = 4

// sealSecret makes the stored value of a vault's row: its checksum, then it.
func sealSecret(key string, value []byte) []byte {
	return append(checksum([]byte(key), value), value...)
}

// openSecret undoes sealSecret. The value is a part of stored.
func openSecret(key, stored []byte) ([]byte, bool) {
	if len(stored) < checksumLen {
		return nil, false
	}
	value := stored[checksumLen:]
	return value, string(checksum(key, value)) == string(stored[:checksumLen])
}
