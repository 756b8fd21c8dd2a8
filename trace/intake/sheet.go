package intake

import (
	"archive/zip"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strconv"
	"strings"
)

// An Excel workbook is read as a stream (ECMA-376 part 1, SpreadsheetML): only
// its shared texts are held, a row at a time is handed out, and which cells are
// numbers comes with it.

// maxUnzipped bounds what is unzipped of a workbook's part: a small file may
// unzip to anything.
const maxUnzipped = 2 << 30

// A sheetSource reads the first sheet of a workbook.
type sheetSource struct {
	file   string
	part   io.ReadCloser
	dec    *xml.Decoder
	shared []string
	line   int
}

func unreadable(file string, err error) error {
	return &Problem{File: file, What: "not an Excel workbook that can be read: " + err.Error(), Hint: "Save it again as .xlsx or as CSV UTF-8."}
}

func openSheet(at io.ReaderAt, size int64, file string) (source, error) {
	z, err := zip.NewReader(at, size)
	if err != nil {
		return nil, unreadable(file, err)
	}
	name, err := firstSheet(z)
	if err != nil {
		return nil, unreadable(file, err)
	}
	s := &sheetSource{file: file}
	if s.shared, err = sharedTexts(z); err != nil {
		return nil, unreadable(file, err)
	}
	if s.part, err = openPart(z, name); err != nil {
		return nil, unreadable(file, err)
	}
	s.dec = xml.NewDecoder(io.LimitReader(s.part, maxUnzipped))
	return s, nil
}

func (s *sheetSource) Close() error { return s.part.Close() }

func openPart(z *zip.Reader, name string) (io.ReadCloser, error) {
	// fs.FS names have no slash in front; parts of one package differ in
	// more than case.
	for _, f := range z.File {
		if strings.EqualFold(strings.TrimPrefix(f.Name, "/"), name) {
			return f.Open()
		}
	}
	return nil, fmt.Errorf("it has no part %s", name)
}

// decodePart decodes a small part whole.
func decodePart(z *zip.Reader, name string, v any) error {
	r, err := openPart(z, name)
	if err != nil {
		return err
	}
	defer r.Close()
	return xml.NewDecoder(io.LimitReader(r, 16<<20)).Decode(v)
}

// firstSheet returns the part of the first sheet.
func firstSheet(z *zip.Reader) (string, error) {
	type relationships struct {
		Relationship []struct {
			ID     string `xml:"Id,attr"`
			Type   string `xml:"Type,attr"`
			Target string `xml:"Target,attr"`
		}
	}
	var root, rels relationships
	if err := decodePart(z, "_rels/.rels", &root); err != nil {
		return "", err
	}
	book := ""
	for _, r := range root.Relationship {
		if strings.HasSuffix(r.Type, "/officeDocument") {
			book = target("", r.Target)
		}
	}
	var wb struct {
		Sheets []struct {
			Attrs []xml.Attr `xml:",any,attr"`
		} `xml:"sheets>sheet"`
	}
	if err := decodePart(z, book, &wb); err != nil {
		return "", err
	}
	dir, base := path.Split(book)
	if err := decodePart(z, dir+"_rels/"+base+".rels", &rels); err != nil {
		return "", err
	}
	if len(wb.Sheets) == 0 {
		return "", errors.New("it has no sheets")
	}
	for _, a := range wb.Sheets[0].Attrs {
		if a.Name.Local != "id" || a.Name.Space == "" {
			continue
		}
		for _, r := range rels.Relationship {
			if r.ID == a.Value {
				return target(dir, r.Target), nil
			}
		}
	}
	return "", errors.New("its first sheet is not there")
}

// target resolves where a relationship points to.
func target(dir, to string) string {
	if strings.HasPrefix(to, "/") {
		return strings.TrimPrefix(path.Clean(to), "/")
	}
	return path.Join(dir, to)
}

// sharedTexts returns the texts that cells share; none if there is no such part.
func sharedTexts(z *zip.Reader) ([]string, error) {
	if !slices.ContainsFunc(z.File, func(f *zip.File) bool { return strings.EqualFold(f.Name, "xl/sharedStrings.xml") }) {
		return nil, nil
	}
	r, err := openPart(z, "xl/sharedStrings.xml")
	if err != nil {
		return nil, err
	}
	defer r.Close()
	dec := xml.NewDecoder(io.LimitReader(r, maxUnzipped))
	var list []string
	for {
		tok, err := dec.Token()
		if errors.Is(err, io.EOF) {
			return list, nil
		}
		if err != nil {
			return nil, err
		}
		if el, ok := tok.(xml.StartElement); ok && el.Name.Local == "si" {
			text, err := textOf(dec)
			if err != nil {
				return nil, err
			}
			list = append(list, text)
		}
	}
}

// textOf reads the text of an element that was begun, without what tells how it
// is pronounced (rPh).
func textOf(dec *xml.Decoder) (string, error) {
	var b strings.Builder
	in := 0
	for depth := 1; depth > 0; {
		tok, err := dec.Token()
		if err != nil {
			return "", err
		}
		switch el := tok.(type) {
		case xml.StartElement:
			if el.Name.Local == "rPh" {
				if err := dec.Skip(); err != nil {
					return "", err
				}
				continue
			}
			depth++
			if el.Name.Local == "t" {
				in++
			}
		case xml.EndElement:
			depth--
			if el.Name.Local == "t" {
				in--
			}
		case xml.CharData:
			if in > 0 {
				b.Write(el)
			}
		}
	}
	return b.String(), nil
}

// next reads the next row that is there; empty rows may be left out of a sheet.
func (s *sheetSource) next() (row, error) {
	for {
		tok, err := s.dec.Token()
		if errors.Is(err, io.EOF) {
			return row{}, io.EOF
		}
		if err != nil {
			return row{}, s.fault(err)
		}
		el, ok := tok.(xml.StartElement)
		if !ok || el.Name.Local != "row" {
			continue
		}
		s.line++
		if n, err := strconv.Atoi(attr(el, "r")); err == nil {
			s.line = n
		}
		r := row{line: s.line}
		if err := s.cells(&r); err != nil {
			return row{}, s.fault(err)
		}
		return r, nil
	}
}

func (s *sheetSource) fault(err error) error {
	return &Problem{File: s.file, Line: s.line, What: err.Error(), Hint: "Save it again as .xlsx or as CSV UTF-8."}
}

// cells reads the cells of a row that was begun.
func (s *sheetSource) cells(r *row) error {
	for {
		tok, err := s.dec.Token()
		if err != nil {
			return err
		}
		switch el := tok.(type) {
		case xml.EndElement:
			return nil
		case xml.StartElement:
			if el.Name.Local != "c" {
				if err := s.dec.Skip(); err != nil {
					return err
				}
				continue
			}
			at := len(r.cells)
			if ref := attr(el, "r"); ref != "" {
				if at, err = columnOfRef(ref); err != nil {
					return err
				}
			}
			text, numeric, err := s.cell(attr(el, "t"))
			if err != nil {
				return err
			}
			for len(r.cells) <= at {
				r.cells, r.numeric = append(r.cells, ""), append(r.numeric, false)
			}
			r.cells[at], r.numeric[at] = text, numeric
		}
	}
}

// cell reads the value of a cell of a type (18.18.11, ST_CellType).
func (s *sheetSource) cell(kind string) (text string, numeric bool, err error) {
	for {
		tok, err := s.dec.Token()
		if err != nil {
			return "", false, err
		}
		switch el := tok.(type) {
		case xml.EndElement:
			return text, numeric, nil
		case xml.StartElement:
			switch el.Name.Local {
			case "is":
				if text, err = textOf(s.dec); err != nil {
					return "", false, err
				}
			case "v":
				var v string
				if err := s.dec.DecodeElement(&v, &el); err != nil {
					return "", false, err
				}
				if text, numeric, err = s.value(kind, v); err != nil {
					return "", false, err
				}
			default: // a formula: its last value counts
				if err := s.dec.Skip(); err != nil {
					return "", false, err
				}
			}
		}
	}
}

func (s *sheetSource) value(kind, v string) (string, bool, error) {
	switch kind {
	case "s":
		n, err := strconv.Atoi(strings.TrimSpace(v))
		if err != nil || n < 0 || n >= len(s.shared) {
			return "", false, fmt.Errorf("it has no shared text %q", v)
		}
		return s.shared[n], false, nil
	case "b":
		if v == "1" {
			return "TRUE", false, nil
		}
		return "FALSE", false, nil
	case "", "n":
		return v, v != "", nil
	}
	return v, false, nil
}

// maxColumns is how many columns a sheet has (18.18.7).
const maxColumns = 16384

// columnOfRef returns the column of a reference such as "AB12", from 0.
func columnOfRef(ref string) (int, error) {
	n := 0
	for i := 0; i < len(ref) && ref[i] >= 'A' && ref[i] <= 'Z'; i++ {
		if n = n*26 + int(ref[i]-'A') + 1; n > maxColumns {
			break
		}
	}
	if n == 0 || n > maxColumns {
		return 0, fmt.Errorf("there is no cell %q", ref)
	}
	return n - 1, nil
}

func attr(el xml.StartElement, name string) string {
	for _, a := range el.Attr {
		if a.Name.Local == name && a.Name.Space == "" {
			return a.Value
		}
	}
	return ""
}
