package inventory

import (
	"errors"
	"strings"
	"unicode"
	"unicode/utf8"

	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// A Lot is a product and a lot number, kept exactly as printed: case, spaces
// and leading zeros matter. An empty number means that the lot is not known.
type Lot struct {
	Product ProductID `json:"product"`
	Number  string    `json:"lot"`
}

func (l Lot) key() []byte { return rowcode.AppendText(nil, string(l.Product), l.Number) }

// words names the lot at the start of a sentence.
func (l Lot) words() string {
	if l.Number == "" {
		return "What has no lot number is"
	}
	return "Lot " + l.Number + " is"
}

func lotFromKey(k *rowcode.Key) Lot {
	p := ProductID(k.Text())
	return Lot{p, k.Text()}
}

// CheckLotNumber says whether a text can be a lot number, in a Refusal if not.
func CheckLotNumber(s string) error {
	if len(s) > 100 || !rowcode.Valid(s) || !utf8.ValidString(s) || strings.ContainsFunc(s, unicode.IsControl) {
		return Invalid("lot", "Copy the lot number as printed, without control characters, at most 100 bytes.", "%q can't be a lot number", s)
	}
	return nil
}

// Fold returns the form of a lot number in which what people confuse is the
// same: O and 0, I, L and 1, case, spaces and punctuation, leading zeros. Lots
// with the same fold are suggested to a person, never taken for each other.
// (Which pairs people confuse is common practice, no source; that published
// notices printed one lot in two ways is why there is a fold at all.)
func Fold(number string) string { return strings.TrimLeft(sameForm(number), "0") }

// sameForm is Fold, with the zeros in front.
func sameForm(number string) string {
	b := make([]byte, 0, len(number))
	for _, r := range number {
		if r, ok := foldRune(r); ok {
			b = utf8.AppendRune(b, r)
		}
	}
	return string(b)
}

// foldRune returns a character's fold, and false for one that has none.
func foldRune(r rune) (rune, bool) {
	switch r = unicode.ToUpper(r); {
	case r == 'O':
		return '0', true
	case r == 'I' || r == 'L':
		return '1', true
	case r == '-' || r == '_' || r == '.' || r == '/' || unicode.IsSpace(r):
		return 0, false
	}
	return r, true
}

// LotFacts are what is known of a lot from the codes scanned and the receipts
// typed.
type LotFacts struct {
	Lot     Lot  `json:"lot"`
	Expires Date `json:"expires,omitempty"`
	Made    Date `json:"made,omitempty"`
	// First is the number of the first entry that names the lot.
	First uint64 `json:"first_entry"`
	// Stands is set when a delivery or a count gave the expiry date.
	Stands bool `json:"-"`
}

func decodeLotFacts(l Lot, row []byte) (LotFacts, error) {
	d := rowcode.NewDec(1, row)
	f := LotFacts{Lot: l, First: d.Uint(), Expires: Date(d.Text()), Made: Date(d.Text()), Stands: d.Flag()}
	return f, d.Err()
}

// LotFactsOf returns what is known of a lot; ok is false if no entry names it.
func LotFactsOf(r Reader, l Lot) (f LotFacts, ok bool, err error) {
	row, err := r.Get(ixLot, l.key())
	if err != nil || row == nil {
		return LotFacts{Lot: l}, false, err
	}
	f, err = decodeLotFacts(l, row)
	return f, true, err
}

// NoteLot writes down that an entry names a lot and which dates it gives. What
// a delivery or a count says of the dates stands, the last one recorded; what a
// use says counts only as long as nothing else is known, since a code misread at
// a chair must not change what every later scan is told. That they differ was a
// finding when it was recorded.
func NoteLot(w Writer, e journal.Entry, l Lot, expires, made Date) error {
	return noteLot(w, e, l, expires, made, false)
}

func noteLot(w Writer, e journal.Entry, l Lot, expires, made Date, stands bool) error {
	l, err := noteAs(w, l)
	if err != nil {
		return err
	}
	f, ok, err := LotFactsOf(w, l)
	if err != nil {
		return err
	}
	if !ok {
		f.First = e.Seq
	}
	was := f
	if expires != "" && (f.Expires == "" || stands || !f.Stands) {
		f.Expires, f.Stands = expires, stands
	}
	if made != "" && (f.Made == "" || stands) {
		f.Made = made
	}
	if ok && f == was {
		return nil
	}
	return f.save(w)
}

func (f *LotFacts) row() []byte {
	v := rowcode.NewEnc(1, 40)
	v.Uint(f.First)
	v.Text(string(f.Expires))
	v.Text(string(f.Made))
	v.Flag(f.Stands)
	return v.Bytes()
}

func (l Lot) foldKey() []byte {
	return rowcode.AppendText(nil, Fold(l.Number), string(l.Product), l.Number)
}

func (f *LotFacts) save(w Writer) error {
	if f.Lot.Number != "" {
		if err := w.Put(ixLotFold, f.Lot.foldKey(), nil); err != nil {
			return err
		}
	}
	return w.Put(ixLot, f.Lot.key(), f.row())
}

func dropLot(w Writer, l Lot) error {
	return errors.Join(w.Delete(ixLotFold, l.foldKey()), w.Delete(ixLot, l.key()))
}

// LotsOf returns the lots of a product that are on record, by number.
func LotsOf(r Reader, p ProductID) ([]LotFacts, error) {
	var fs []LotFacts
	err := r.Scan(ixLot, rowcode.AppendText(nil, string(p)), nil, func(key, row []byte) error {
		f, err := decodeLotFacts(lotFromKey(rowcode.ReadKey(key)), row)
		fs = append(fs, f)
		return err
	})
	return fs, err
}

// SimilarLots returns the lots on record that fold to the same form as a
// number, those of the product first; the exact lot itself is not among them.
func SimilarLots(r Reader, l Lot) ([]Lot, error) {
	var same, others []Lot
	fold := Fold(l.Number)
	if fold == "" {
		return nil, nil
	}
	err := r.Scan(ixLotFold, rowcode.AppendText(nil, fold), nil, func(key, _ []byte) error {
		k := rowcode.ReadKey(key)
		k.Text()
		o := lotFromKey(k)
		switch {
		case o == l:
		case o.Product == l.Product:
			same = append(same, o)
		default:
			others = append(others, o)
		}
		return k.Err()
	})
	return append(same, others...), err
}
