package intake

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"io"
)

// A csvSource reads CSV with commas or semicolons, whichever there are more of
// in the first line.
type csvSource struct {
	r    *csv.Reader
	file string
}

func openCSV(at io.ReaderAt, size int64, file string) (source, error) {
	in := bufio.NewReaderSize(io.NewSectionReader(at, 0, size), 1<<16)
	head, _ := in.Peek(1 << 16)
	if bytes.HasPrefix(head, []byte("\xef\xbb\xbf")) {
		if _, err := in.Discard(3); err != nil {
			return nil, err
		}
	}
	r := csv.NewReader(in)
	r.FieldsPerRecord = -1
	r.ReuseRecord = true
	first, _, _ := bytes.Cut(head, []byte("\n"))
	if bytes.Count(first, []byte(";")) > bytes.Count(first, []byte(",")) {
		r.Comma = ';'
	}
	return &csvSource{r, file}, nil
}

func (s *csvSource) next() (row, error) {
	cells, err := s.r.Read()
	if pe := (*csv.ParseError)(nil); errors.As(err, &pe) {
		return row{}, &Problem{File: s.file, Line: pe.Line, What: pe.Err.Error(), Hint: "Put text that holds quotes or separators into double quotes."}
	} else if err != nil {
		return row{}, err
	}
	line, _ := s.r.FieldPos(0)
	return row{line: line, cells: cells}, nil
}

func (*csvSource) Close() error { return nil }
