package boltstore

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/fnv"
	"io"
	"os"

	bolterrors "go.etcd.io/bbolt/errors"

	"lotbook/inventory"
)

// The parts of a bbolt file, version 2, in the machine's own byte order. Every
// page begins with its id (8 bytes), flags (2), count of elements (2) and how
// many further pages it runs over (4).
const (
	boltMagic      = 0xED0CDAED
	boltVersion    = 2
	boltPageHeader = 16
	boltMetaLen    = 64 // the last 8 are FNV-1a over those before
	boltElement    = 16
	boltBranch     = 0x01
	boltLeaf       = 0x02
	boltFreelist   = 0x10
	boltBucketFlag = 0x01
	boltNoFreelist = ^uint64(0)
	boltMaxRun     = 256 << 20 // bytes; the largest entry has 64 MiB
	boltMaxDepth   = 64        // a tree of 2 keys a page reaches it with 2^64 rows
)

var order = binary.NativeEndian

// A fileLayout is what the pages' check learned of a file.
type fileLayout struct {
	pageSize uint64
	pages    uint64 // all that were ever used
	entries  uint64 // rows of the bucket "entries"
	keys     uint64 // of the bucket "keys"
	points   uint64 // of the bucket "checkpoints"
}

// A boltMeta is one of the two headers of a file.
type boltMeta struct {
	pageSize              uint64
	root, freelist, pages uint64
	txid                  uint64
}

func parseBoltMeta(page []byte) (m boltMeta, err error) {
	if len(page) < boltPageHeader+boltMetaLen {
		return m, errors.New("it is cut off")
	}
	b := page[boltPageHeader : boltPageHeader+boltMetaLen]
	if order.Uint32(b) != boltMagic {
		return m, bolterrors.ErrInvalid
	}
	sum := fnv.New64a()
	_, _ = sum.Write(b[:boltMetaLen-8])
	if sum.Sum64() != order.Uint64(b[boltMetaLen-8:]) {
		return m, errors.New("its checksum is wrong")
	}
	if v := order.Uint32(b[4:]); v != boltVersion {
		return m, fmt.Errorf("it is of version %d of bbolt's format", v)
	}
	return boltMeta{
		pageSize: uint64(order.Uint32(b[8:])), root: order.Uint64(b[16:]),
		freelist: order.Uint64(b[32:]), pages: order.Uint64(b[40:]), txid: order.Uint64(b[48:]),
	}, nil
}

// checkPages checks the form of all pages: that each is there and used once,
// that keys ascend, and that every page is either used or free.
func (v *verifier) checkPages(f *os.File) error {
	info, err := f.Stat()
	if err != nil {
		return err
	}
	v.report.Bytes = info.Size()
	if err := v.damaged(readThrough(v.ctx, f, info.Size())); err != nil || v.found.any() {
		return err
	}
	meta, err := v.readHeaders(f, info.Size())
	if err != nil || v.found.any() && meta == (boltMeta{}) {
		return err
	}
	c := &pageCheck{
		v: v, f: f, size: meta.pageSize, pages: meta.pages,
		used: make([]uint64, meta.pages/64+1), free: make([]uint64, meta.pages/64+1),
	}
	v.layout.pageSize, v.layout.pages, v.report.Pages = meta.pageSize, meta.pages, meta.pages
	v.total.Store(meta.pages)
	c.mark(c.used, 0)
	c.mark(c.used, 1)
	if err := c.run(meta); err != nil {
		var p *Problem
		if !errors.As(err, &p) {
			return err
		}
		v.found.add(*p)
	}
	return nil
}

// readHeaders returns the newer header.
func (v *verifier) readHeaders(f *os.File, size int64) (boltMeta, error) {
	buf := make([]byte, boltPageHeader+boltMetaLen)
	var metas [2]boltMeta
	var errs [2]error
	_, _ = f.ReadAt(buf, 0)
	metas[0], errs[0] = parseBoltMeta(buf)
	second := uint64(pageSize)
	if errs[0] == nil {
		second = metas[0].pageSize
	}
	clear(buf)
	_, _ = f.ReadAt(buf, int64(second))
	metas[1], errs[1] = parseBoltMeta(buf)
	if errors.Is(errs[0], bolterrors.ErrInvalid) && errors.Is(errs[1], bolterrors.ErrInvalid) {
		return boltMeta{}, inventory.ErrNotAStore
	}
	meta := metas[0]
	if errs[0] != nil || errs[1] == nil && metas[1].txid > meta.txid {
		meta = metas[1]
	}
	for i, err := range errs {
		if err != nil {
			v.found.add(Problem{Place: InPage, Page: uint64(i), Why: fmt.Sprintf(
				"this header can't be read (%v): what was written last may be lost", err)})
		}
	}
	switch {
	case meta == boltMeta{}:
	case meta.pageSize < 512 || meta.pageSize > 1<<20 || meta.pageSize&(meta.pageSize-1) != 0:
		v.found.add(Problem{Place: InFile, Why: fmt.Sprintf("its pages can't have %d bytes", meta.pageSize)})
		return boltMeta{}, nil
	case meta.pages < 4 || meta.pages > uint64(size)/meta.pageSize:
		v.found.add(Problem{Place: InFile, Why: fmt.Sprintf(
			"it is cut off: it should have %d pages of %d bytes, and has %d bytes", meta.pages, meta.pageSize, size)})
		return boltMeta{}, nil
	}
	return meta, nil
}

// A pageCheck walks the pages of a file.
type pageCheck struct {
	v     *verifier
	f     io.ReaderAt
	size  uint64
	pages uint64
	used  []uint64 // a bit a page
	free  []uint64
	bufs  [boltMaxDepth][]byte
}

func (c *pageCheck) mark(bits []uint64, page uint64)     { bits[page/64] |= 1 << (page % 64) }
func (c *pageCheck) has(bits []uint64, page uint64) bool { return bits[page/64]&(1<<(page%64)) != 0 }

func pageProblem(page uint64, format string, args ...any) error {
	return &Problem{Place: InPage, Page: page, Why: fmt.Sprintf(format, args...)}
}

func (c *pageCheck) run(m boltMeta) error {
	top := &bucketCheck{c: c, name: "(top)", isTop: true}
	if err := top.walk(m.root, 0, nil, nil); err != nil {
		return err
	}
	if m.freelist != boltNoFreelist {
		if err := c.freelist(m.freelist); err != nil {
			return err
		}
	}
	for p := range c.pages {
		if c.has(c.used, p) == c.has(c.free, p) {
			if c.has(c.used, p) {
				return pageProblem(p, "it is in use and listed as free")
			}
			return pageProblem(p, "it is neither in use nor listed as free")
		}
	}
	return nil
}

// read reads a page and those that it runs over, once each.
func (c *pageCheck) read(id uint64, depth int) (page []byte, flags uint16, count uint64, err error) {
	if id < 2 || id >= c.pages {
		return nil, 0, 0, pageProblem(id, "there is no such page: the file has %d", c.pages)
	}
	buf := c.bufs[depth]
	if uint64(len(buf)) < c.size {
		buf = make([]byte, c.size)
	}
	if _, err := c.f.ReadAt(buf[:c.size], int64(id*c.size)); err != nil {
		return nil, 0, 0, pageProblem(id, "it can't be read: %v", err)
	}
	if got := order.Uint64(buf); got != id {
		return nil, 0, 0, pageProblem(id, "it says that it is page %d", got)
	}
	over := uint64(order.Uint32(buf[12:]))
	if over >= c.pages-id {
		return nil, 0, 0, pageProblem(id, "it runs over %d further pages, past the end", over)
	}
	if c.size*(over+1) > boltMaxRun {
		return nil, 0, 0, pageProblem(id, "it runs over %d further pages, which is too many", over)
	}
	for p := id; p <= id+over; p++ {
		if c.has(c.used, p) {
			return nil, 0, 0, pageProblem(p, "it is used twice")
		}
		c.mark(c.used, p)
	}
	total := c.size * (over + 1)
	if uint64(len(buf)) < total {
		buf = append(buf[:c.size], make([]byte, total-c.size)...)
	}
	if over > 0 {
		if _, err := c.f.ReadAt(buf[c.size:total], int64((id+1)*c.size)); err != nil {
			return nil, 0, 0, pageProblem(id, "it can't be read: %v", err)
		}
	}
	c.bufs[depth] = buf
	if err := c.v.step(over + 1); err != nil {
		return nil, 0, 0, err
	}
	return buf[:total], order.Uint16(buf[8:]), uint64(order.Uint16(buf[10:])), nil
}

// freelist reads the list of free pages.
func (c *pageCheck) freelist(id uint64) error {
	page, flags, count, err := c.read(id, 0)
	if err != nil {
		return err
	}
	if flags != boltFreelist {
		return pageProblem(id, "it should be the list of free pages, and has the flags %#x", flags)
	}
	ids := page[boltPageHeader:]
	if count == 0xffff { // then the count comes first
		count = order.Uint64(ids)
		ids = ids[8:]
	}
	if count > uint64(len(ids))/8 {
		return pageProblem(id, "its list of %d free pages does not fit in it", count)
	}
	for i := range count {
		p := order.Uint64(ids[8*i:])
		if p < 2 || p >= c.pages {
			return pageProblem(id, "it lists page %d as free, and there is none", p)
		}
		if c.has(c.free, p) {
			return pageProblem(id, "it lists page %d as free twice", p)
		}
		c.mark(c.free, p)
	}
	return nil
}

// A bucketCheck walks the tree of one bucket.
type bucketCheck struct {
	c     *pageCheck
	name  string
	isTop bool
	last  []byte // the key before
	rows  uint64
}

func (b *bucketCheck) problem(page uint64, format string, args ...any) error {
	where := fmt.Sprintf(" (bucket %q", b.name)
	switch {
	case b.last == nil:
		where += ", at its beginning)"
	case b.name == entriesBucket && len(b.last) == 8:
		where += fmt.Sprintf(", after entry %d)", binary.BigEndian.Uint64(b.last))
	default:
		where += fmt.Sprintf(", after row %q)", b.last)
	}
	return pageProblem(page, "%s%s", fmt.Sprintf(format, args...), where)
}

// walk checks the tree under a page, whose keys must be at or above low and
// below high (nil: no bound).
func (b *bucketCheck) walk(id uint64, depth int, low, high []byte) error {
	if depth == boltMaxDepth {
		return b.problem(id, "its tree is too deep")
	}
	page, flags, count, err := b.c.read(id, depth)
	if err != nil {
		var p *Problem
		if errors.As(err, &p) {
			return b.problem(p.Page, "%s", p.Why)
		}
		return err
	}
	switch flags {
	case boltLeaf:
		return b.leaf(id, page, count, depth, low, high)
	case boltBranch:
		return b.branch(id, page, count, depth, low, high)
	}
	return b.problem(id, "it should be a page of rows, and has the flags %#x", flags)
}

// part returns n bytes of a page, which an element says begin pos after itself.
func (b *bucketCheck) part(id uint64, page []byte, element, pos, n uint64) ([]byte, error) {
	start := element + pos
	if start > uint64(len(page)) || n > uint64(len(page))-start {
		return nil, b.problem(id, "a row reaches past its end")
	}
	return page[start : start+n], nil
}

func (b *bucketCheck) branch(id uint64, page []byte, count uint64, depth int, low, high []byte) error {
	if count == 0 || boltPageHeader+count*boltElement > uint64(len(page)) {
		return b.problem(id, "it can't have %d branches", count)
	}
	key := func(i uint64) ([]byte, error) {
		at := boltPageHeader + i*boltElement
		return b.part(id, page, at, uint64(order.Uint32(page[at:])), uint64(order.Uint32(page[at+4:])))
	}
	first, err := key(0)
	if err != nil {
		return err
	}
	if bytes.Compare(first, low) < 0 {
		return b.problem(id, "its first key does not belong there")
	}
	for i := range count {
		k, err := key(i)
		if err != nil {
			return err
		}
		next := high
		if i+1 < count {
			if next, err = key(i + 1); err != nil {
				return err
			}
		}
		if next != nil && bytes.Compare(k, next) >= 0 {
			return b.problem(id, "its keys do not ascend")
		}
		child := order.Uint64(page[boltPageHeader+i*boltElement+8:])
		if err := b.walk(child, depth+1, k, next); err != nil {
			return err
		}
	}
	return nil
}

func (b *bucketCheck) leaf(id uint64, page []byte, count uint64, depth int, low, high []byte) error {
	if boltPageHeader+count*boltElement > uint64(len(page)) {
		return b.problem(id, "it can't have %d rows", count)
	}
	if count == 0 && depth > 0 {
		return b.problem(id, "it has no rows")
	}
	for i := range count {
		at := boltPageHeader + i*boltElement
		rowFlags := order.Uint32(page[at:])
		pos, klen, vlen := uint64(order.Uint32(page[at+4:])), uint64(order.Uint32(page[at+8:])), uint64(order.Uint32(page[at+12:]))
		k, err := b.part(id, page, at, pos, klen)
		if err != nil {
			return err
		}
		val, err := b.part(id, page, at, pos+klen, vlen)
		if err != nil {
			return err
		}
		if b.last != nil && bytes.Compare(k, b.last) <= 0 || bytes.Compare(k, low) < 0 || high != nil && bytes.Compare(k, high) >= 0 {
			return b.problem(id, "its keys do not ascend")
		}
		b.last = append(b.last[:0], k...)
		b.rows++
		if b.isTop != (rowFlags == boltBucketFlag) || !b.isTop && rowFlags != 0 {
			return b.problem(id, "row %q has the flags %#x", k, rowFlags)
		}
		if b.isTop {
			if err := b.bucket(id, string(k), val, depth); err != nil {
				return err
			}
		}
	}
	return nil
}

// bucket checks a bucket of the top one: the id of its first page, or 0 and
// then the page itself, which is a leaf.
func (b *bucketCheck) bucket(id uint64, name string, val []byte, depth int) error {
	const header = 16
	if len(val) < header {
		return b.problem(id, "bucket %q is cut off", name)
	}
	inner := &bucketCheck{c: b.c, name: name}
	if root := order.Uint64(val); root != 0 {
		// The pages of the top bucket are still in use, so not its buffers.
		if err := inner.walk(root, depth+1, nil, nil); err != nil {
			return err
		}
	} else {
		page := val[header:]
		if len(page) < boltPageHeader || order.Uint16(page[8:]) != boltLeaf {
			return b.problem(id, "bucket %q can't be read", name)
		}
		if err := inner.leaf(id, page, uint64(order.Uint16(page[10:])), 0, nil, nil); err != nil {
			return err
		}
	}
	switch name {
	case entriesBucket:
		b.c.v.layout.entries = inner.rows
	case keysBucket:
		b.c.v.layout.keys = inner.rows
	case checkpointBucket:
		b.c.v.layout.points = inner.rows
	}
	return nil
}
