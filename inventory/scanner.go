package inventory

import (
	"context"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
	"lotbook/scanner/wedge"
)

// A ScannerID names a keyboard scanner: what is written on it, or the station
// that it hangs at.
type ScannerID string

// A Scanner is a keyboard scanner and what it does to the text of a symbol, as
// its scans of the test sheet showed.
type Scanner struct {
	ID      ScannerID     `json:"scanner"`
	Profile wedge.Profile `json:"profile"`
	// Since is when the sheet was last scanned, By who recorded it; the
	// entry says that itself.
	Since time.Time `json:"-"`
	By    string    `json:"-"`
}

// ScannerProfiled records what a scanner does to text, for the first time or
// again.
type ScannerProfiled struct {
	Scanner
}

// Kind implements Event.
func (*ScannerProfiled) Kind() string { return "scanner.profiled" }

func (s *ScannerProfiled) check() error {
	id := string(s.ID)
	if strings.TrimSpace(id) == "" || !rowcode.Valid(id) || !utf8.ValidString(id) || len(id) > 64 {
		return Invalid("scanner", "Give what is written on the scanner, or where it hangs, at most 64 bytes.", "a scanner needs a name")
	}
	p := s.Profile
	const again = "Scan the test sheet again."
	for _, t := range []string{p.Separator, p.Prefix, p.Suffix} {
		if len(t) > 32 || !utf8.ValidString(t) {
			return Invalid("profile", again, "the profile of scanner %s has a text of %d bytes, which is more than a scanner adds", id, len(t))
		}
	}
	known := func(l wedge.Layout) bool { return l == "" || slices.Contains(wedge.Layouts(), l) }
	if !known(p.Scanner) || !known(p.Host) || (p.Scanner == "") != (p.Host == "") {
		return Invalid("profile", again, "the profile of scanner %s has the keyboard layouts %q and %q", id, p.Scanner, p.Host)
	}
	switch p.CapsLock {
	case wedge.CapsUnknown, wedge.CapsOff, wedge.CapsOn, wedge.CapsShift:
		return nil
	}
	return Invalid("profile", again, "the profile of scanner %s has %q for Caps Lock", id, p.CapsLock)
}

// Project implements Event.
func (s *ScannerProfiled) Project(w Writer, e journal.Entry) error {
	v := rowcode.NewEnc(1, 64)
	v.Time(e.Happened)
	v.Text(e.Actor)
	p := s.Profile
	for _, t := range []string{p.Separator, p.Prefix, p.Suffix, string(p.Scanner), string(p.Host), string(p.CapsLock)} {
		v.Text(t)
	}
	return w.Put(ixScanner, rowcode.AppendText(nil, string(s.ID)), v.Bytes())
}

func decodeScanner(key, row []byte) (Scanner, error) {
	k := rowcode.ReadKey(key)
	s := Scanner{ID: ScannerID(k.Text())}
	if err := k.Err(); err != nil {
		return s, err
	}
	d := rowcode.NewDec(1, row)
	s.Since, s.By = d.Time(), d.Text()
	s.Profile = wedge.Profile{
		Separator: d.Text(), Prefix: d.Text(), Suffix: d.Text(),
		Scanner: wedge.Layout(d.Text()), Host: wedge.Layout(d.Text()), CapsLock: wedge.Caps(d.Text()),
	}
	return s, d.Err()
}

// SetScanner records what a scanner does to text.
func (b *Book) SetScanner(ctx context.Context, call Call, s Scanner) (Receipt, error) {
	return b.Record(ctx, call, s, func(Reader) ([]Event, error) {
		ev := &ScannerProfiled{s}
		return []Event{ev}, ev.check()
	})
}

// ScannerByID returns a scanner, or a Refusal that is ErrNotFound.
func ScannerByID(r Reader, id ScannerID) (Scanner, error) {
	key := rowcode.AppendText(nil, string(id))
	row, err := r.Get(ixScanner, key)
	if err != nil {
		return Scanner{}, err
	}
	if row == nil {
		return Scanner{}, NotFound("scanner", string(id), "Scan the test sheet with it first, or choose one that was tested.")
	}
	return decodeScanner(key, row)
}

// Scanners returns the scanners that were tested, by id.
func Scanners(r Reader) ([]Scanner, error) {
	var list []Scanner
	err := r.Scan(ixScanner, nil, nil, func(key, row []byte) error {
		s, err := decodeScanner(key, row)
		list = append(list, s)
		return err
	})
	return list, err
}
