package main

import (
	"context"
	"errors"
	"slices"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/trace/intake"
)

// An importing is an import under way.
type importing struct {
	*house
	t              *intake.Table
	list           string
	sum            journal.Hash
	partial, again bool
	call           inventory.Call
	progress       *progress

	state inventory.ImportState // what was taken of this very file
	run   uint64
	after uint64
	// continues are files that this one begins with all the rows of which were
	// taken.
	continues map[journal.Hash]bool

	// products is what a list of products has of each other.
	products *inventory.ProductList

	taken, skipped int
	findings       findings
}

// begin finds out how far this file, or others of the list, were taken in.
func (im *importing) begin(ctx context.Context) error {
	return im.book.View(ctx, func(r inventory.Reader) (err error) {
		if im.state, err = inventory.ImportOf(r, im.list, im.sum); err != nil {
			return err
		}
		im.run, im.after = max(1, im.state.Run), r.Head().Seq
		switch {
		case im.state.Run > 0 && !im.state.Last:
			im.after = im.state.After
		case im.again && im.state.Last:
			im.run++
		}
		return nil
	})
}

// A batch is rows that are recorded together.
type batch[T any] struct {
	items []T
	lines []int
	keys  []inventory.RowKey
}

func (b *batch[T]) add(r *intake.Row[T]) {
	b.items, b.lines, b.keys = append(b.items, r.Item), append(b.lines, r.Line), append(b.keys, r.Key)
}

// drop leaves out the rows that drop says yes to.
func (b *batch[T]) drop(drop func(i int) bool) {
	n := 0
	for i := range b.items {
		if !drop(i) {
			b.items[n], b.lines[n], b.keys[n] = b.items[i], b.lines[i], b.keys[i]
			n++
		}
	}
	b.items, b.lines, b.keys = b.items[:n], b.lines[:n], b.keys[:n]
}

// A listImport says how the rows of a list are recorded.
type listImport[T any] struct {
	list *intake.List[T]
	// size is how many rows are recorded together.
	size int
	// survey, where it is there, is shown each row that can be read before any
	// is checked: what rows must know of each other.
	survey func(im *importing, item *T)
	// together, where it is there, says that two rows that follow each other
	// must be recorded together; a refusal then is of all of them.
	together func(a, b *T) bool
	write    func(ctx context.Context, im *importing, call inventory.Call, items []T) (inventory.Receipt, error)
}

// take takes a list in: it goes through the file to check it, unless it may be
// taken in part, and then to record it.
func (l *listImport[T]) take(ctx context.Context, im *importing) error {
	if bad := l.list.Header(im.t); len(bad) > 0 {
		im.findings.of(bad...)
		return nil
	}
	if err := errors.Join(l.compare(ctx, im), l.look(ctx, im)); err != nil {
		return err
	}
	if !im.partial {
		im.progress.begin("checked", im.t.Len())
		if err := l.through(ctx, im, true); err != nil || im.findings.n > 0 {
			im.skipped = 0
			return err
		}
		im.skipped = 0
	}
	im.progress.begin("taken", im.t.Len())
	return l.through(ctx, im, false)
}

// compare finds the files that this one continues.
func (l *listImport[T]) compare(ctx context.Context, im *importing) error {
	var ever bool
	err := im.book.View(ctx, func(r inventory.Reader) (err error) {
		ever, err = inventory.EverImported(r, im.list)
		return err
	})
	if err != nil || !ever || im.again {
		return err
	}
	im.progress.begin("compared", im.t.Len())
	var keys []inventory.RowKey
	look := func() error {
		return im.book.View(ctx, func(r inventory.Reader) error {
			for _, k := range keys {
				files, err := inventory.RowTakenFrom(r, im.list, k)
				if err != nil {
					return err
				}
				for _, f := range files {
					s, err := inventory.ImportOf(r, im.list, f.Sum)
					if err != nil {
						return err
					}
					if s.End == k {
						im.continues[f.Sum] = true
					}
				}
			}
			keys = keys[:0]
			return nil
		})
	}
	err = l.list.Each(im.t, func(r *intake.Row[T]) error {
		im.progress.step(1)
		if keys = append(keys, r.Key); len(keys) < 1000 {
			return ctx.Err()
		}
		return errors.Join(ctx.Err(), look())
	})
	return errors.Join(err, look())
}

// look shows all rows to the survey. What can't be read is said when the rows
// are checked.
func (l *listImport[T]) look(ctx context.Context, im *importing) error {
	if l.survey == nil {
		return nil
	}
	im.progress.begin("looked at", im.t.Len())
	err := l.list.Each(im.t, func(r *intake.Row[T]) error {
		im.progress.step(1)
		if len(r.Problems) == 0 {
			l.survey(im, &r.Item)
		}
		return ctx.Err()
	})
	if p := (*intake.Problem)(nil); errors.As(err, &p) {
		return nil
	}
	return err
}

// through goes through the file, a batch at a time.
func (l *listImport[T]) through(ctx context.Context, im *importing, checkOnly bool) error {
	var b batch[T]
	flush := func(last bool) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		err := l.flush(ctx, im, &b, checkOnly, last)
		b = batch[T]{b.items[:0], b.lines[:0], b.keys[:0]}
		return err
	}
	err := l.list.Each(im.t, func(r *intake.Row[T]) error {
		im.progress.step(1)
		n := len(b.items)
		split := n >= l.size
		if l.together != nil && n > 0 {
			split = len(r.Problems) == 0 && !l.together(&b.items[n-1], &r.Item)
		}
		if split {
			if err := flush(false); err != nil {
				return err
			}
		}
		if len(r.Problems) > 0 {
			im.findings.of(r.Problems...)
			return nil
		}
		b.add(r)
		return nil
	})
	if p := (*intake.Problem)(nil); errors.As(err, &p) {
		im.findings.of(p)
		err = nil
	}
	if err == nil {
		err = flush(true)
	}
	return err
}

// flush records a batch, or checks whether it could be, without the rows that
// were taken before and those that the book refuses.
func (l *listImport[T]) flush(ctx context.Context, im *importing, b *batch[T], checkOnly, last bool) error {
	n := len(b.items)
	if err := l.leaveOut(ctx, im, b); err != nil {
		return err
	}
	im.skipped += n - len(b.items)
	for len(b.items) > 0 {
		call := im.call
		call.CheckOnly = checkOnly
		call.Also = []inventory.Event{im.imported(b.keys, last)}
		rec, err := l.write(ctx, im, call, b.items)
		if err == nil {
			if !checkOnly {
				im.taken += len(b.items)
				im.notices(rec, b.lines)
			}
			return nil
		}
		refused := intake.Refused(im.t, b.lines, err)
		if len(refused) == 0 {
			return err
		}
		im.findings.of(refused...)
		if l.together != nil {
			b.drop(func(int) bool { return true })
			break
		}
		b.drop(func(i int) bool {
			return slices.ContainsFunc(refused, func(p *intake.Problem) bool { return p.Line == b.lines[i] })
		})
	}
	if !checkOnly && last && (im.taken > 0 || im.state.Run > 0 && !im.state.Last) {
		_, err := im.book.NoteImport(ctx, im.call, *im.imported(nil, true))
		return err
	}
	return nil
}

// leaveOut drops the rows that were taken before.
func (l *listImport[T]) leaveOut(ctx context.Context, im *importing, b *batch[T]) error {
	return im.book.View(ctx, func(r inventory.Reader) error {
		var failed error
		b.drop(func(i int) bool {
			files, err := inventory.RowTakenFrom(r, im.list, b.keys[i])
			if err != nil {
				failed = err
			}
			return slices.ContainsFunc(files, func(f inventory.RowTaken) bool {
				if f.Sum == im.sum {
					return !im.again || f.Run == im.run
				}
				return !im.again && im.continues[f.Sum]
			})
		})
		return failed
	})
}

func (im *importing) imported(keys []inventory.RowKey, last bool) *inventory.Imported {
	v := &inventory.Imported{List: im.list, File: im.t.File, Sum: im.sum, Run: im.run, After: im.after, Last: last}
	for _, k := range keys {
		v.Rows = append(v.Rows, k[:]...)
	}
	return v
}

// notices keeps what there was to notice about the rows taken.
func (im *importing) notices(rec inventory.Receipt, lines []int) {
	if len(rec.Entries) != len(lines)+1 {
		return // not an entry a row
	}
	for i, line := range lines {
		ev, err := im.registry.Decode(rec.Entries[i])
		if err != nil {
			continue
		}
		if v, ok := ev.(*inventory.Received); ok {
			for _, f := range v.Findings {
				im.findings.notice(im.t.File, line, f.Message)
			}
		}
	}
}
