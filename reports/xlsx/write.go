package xlsx

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/xuri/excelize/v2"

	"lotbook/reports"
)

// Options of [Write].
type Options struct {
	// TempDir is a folder for temporary files, inside the data folder. It
	// is made, for the owner only, if it isn't there.
	TempDir string
	// Application is put into the file's properties as the program that
	// wrote it.
	Application string
}

// Write draws wb to w. Nothing is written to w before the whole workbook is
// drawn, so that an error can still be answered in another way. The same wb
// gives the same bytes.
//
// Errors: [ErrNoTempDir]; those of [reports.Workbook.Check]; a
// [reports.RowError] with the sheet's name around it; the error of a Rows
// iterator; ctx's; those of w. An error that is [ErrLeftOver] says that
// temporary files could not be removed.
func Write(ctx context.Context, w io.Writer, wb *reports.Workbook, opts Options) error {
	return write(ctx, w, wb, opts, limits{rows: MaxRows, bytes: maxSheetBytes})
}

// limits are where a table goes on in a further sheet.
type limits struct {
	rows  int
	bytes int64
}

func write(ctx context.Context, w io.Writer, wb *reports.Workbook, opts Options, full limits) (err error) {
	if err := wb.Check(); err != nil {
		return fmt.Errorf("workbook: %w", err)
	}
	dir, err := makeTempDir(opts.TempDir)
	if err != nil {
		return fmt.Errorf("workbook: %w", err)
	}
	f := excelize.NewFile(excelize.Options{TmpDir: dir})
	defer func() {
		// excelize holds its temporary files open: close them first.
		err = errors.Join(err, f.Close(), removeTempDir(dir))
	}()
	b := &builder{ctx: ctx, file: f, wb: wb, zone: wb.Location(), names: newNames(), styles: newStyles(f), full: full}
	if err := b.build(opts); err != nil {
		return err
	}
	f.SetZipWriter(func(io.Writer) excelize.ZipWriter { return newArchive(w) })
	if err := f.Write(io.Discard); err != nil {
		return fmt.Errorf("workbook: %w", err)
	}
	return nil
}

// MaxRows is how many rows a table sheet holds below its header: a sheet of
// Excel's has 1,048,576 in all.
const MaxRows = excelize.TotalRows - 1

// maxSheetBytes keeps a sheet's part below the 4 GiB from which on a zip file
// needs a form that not every reader knows.
const maxSheetBytes = 4<<30 - 64<<20

// A builder holds what the sheets of one workbook share.
type builder struct {
	ctx    context.Context
	file   *excelize.File
	wb     *reports.Workbook
	zone   *time.Location
	names  *names
	styles *styles
	sheets int
	full   limits
}

func (b *builder) build(opts Options) error {
	if err := b.properties(opts); err != nil {
		return fmt.Errorf("workbook: properties: %w", err)
	}
	for i := range b.wb.Sheets {
		s := &b.wb.Sheets[i]
		var err error
		if s.Summary != nil {
			err = b.summary(s)
		} else {
			err = b.table(s)
		}
		if err != nil {
			return fmt.Errorf("workbook: sheet %q: %w", s.Name, err)
		}
	}
	if b.styles.err != nil {
		return fmt.Errorf("workbook: styles: %w", b.styles.err)
	}
	return nil
}

func (b *builder) properties(opts Options) error {
	at := b.wb.AskedAt.UTC().Format("2006-01-02T15:04:05Z")
	by := reports.Visible(b.wb.AskedBy, false)
	if err := b.file.SetDocProps(&excelize.DocProperties{
		Title:          reports.Visible(b.wb.Title, false),
		Creator:        by,
		LastModifiedBy: by,
		Created:        at,
		Modified:       at,
	}); err != nil {
		return err
	}
	return b.file.SetAppProps(&excelize.AppProperties{Application: opts.Application})
}

// addSheet adds an empty sheet and returns the name that it got.
func (b *builder) addSheet(want string) (string, error) {
	name := b.names.take(want)
	b.sheets++
	if b.sheets == 1 {
		// A new file comes with one sheet.
		return name, b.file.SetSheetName(b.file.GetSheetName(0), name)
	}
	_, err := b.file.NewSheet(name)
	return name, err
}
