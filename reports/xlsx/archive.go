package xlsx

import (
	"archive/zip"
	"bytes"
	"cmp"
	"errors"
	"hash/crc32"
	"io"
	"io/fs"
	"slices"

	"github.com/klauspost/compress/flate"
)

// An archive is the zip file around a workbook's parts. It keeps the parts
// compressed in memory, as excelize does with the whole file, and writes them
// when it is closed: excelize hands sheets over in the order of a map, and the
// same workbook should give the same bytes. Compression is the fastest level,
// as most of the time goes there.
type archive struct {
	w     io.Writer
	parts []*part
	deflt *flate.Writer
}

type part struct {
	name string
	data bytes.Buffer
	size uint64
	crc  uint32
	open *flate.Writer
}

func newArchive(w io.Writer) *archive { return &archive{w: w} }

// Create begins a part and ends the one before.
func (a *archive) Create(name string) (io.Writer, error) {
	if err := a.finish(); err != nil {
		return nil, err
	}
	p := &part{name: name}
	if a.deflt == nil {
		fw, err := flate.NewWriter(&p.data, flate.BestSpeed)
		if err != nil {
			return nil, err
		}
		a.deflt = fw
	} else {
		a.deflt.Reset(&p.data)
	}
	p.open = a.deflt
	a.parts = append(a.parts, p)
	return p, nil
}

// Write compresses b into the part.
func (p *part) Write(b []byte) (int, error) {
	if p.open == nil {
		return 0, errors.New("write to a part of the workbook that was ended")
	}
	p.size += uint64(len(b))
	p.crc = crc32.Update(p.crc, crc32.IEEETable, b)
	return p.open.Write(b)
}

func (a *archive) finish() error {
	if len(a.parts) == 0 {
		return nil
	}
	p := a.parts[len(a.parts)-1]
	if p.open == nil {
		return nil
	}
	p.open = nil
	return a.deflt.Close()
}

// AddFS is here as excelize's interface has it. Nothing calls it.
func (a *archive) AddFS(fs.FS) error { return errors.ErrUnsupported }

// Close writes the parts.
func (a *archive) Close() error {
	if err := a.finish(); err != nil {
		return err
	}
	slices.SortFunc(a.parts, func(p, q *part) int {
		return cmp.Or(cmp.Compare(rank(p.name), rank(q.name)), cmp.Compare(len(p.name), len(q.name)), cmp.Compare(p.name, q.name))
	})
	zw := zip.NewWriter(a.w)
	for _, p := range a.parts {
		pw, err := zw.CreateRaw(&zip.FileHeader{
			Name:               p.name,
			Method:             zip.Deflate,
			CRC32:              p.crc,
			CompressedSize64:   uint64(p.data.Len()),
			UncompressedSize64: p.size,
		})
		if err != nil {
			return err
		}
		if _, err := p.data.WriteTo(pw); err != nil {
			return err
		}
	}
	return zw.Close()
}

// rank puts first what tells a reader that this is a workbook.
func rank(name string) int {
	switch name {
	case "[Content_Types].xml":
		return 0
	case "_rels/.rels":
		return 1
	}
	return 2
}
