package hibc

import "fmt"

// A Code names a kind of error. The texts do not change.
type Code string

// The codes.
const (
	BadCheckChar Code = "hibc_check_char"
	BadStructure Code = "hibc_structure"
	BadCharset   Code = "bad_charset"
	BadDate      Code = "bad_date"
	BadTime      Code = "bad_time"
	TooLong      Code = "too_long"
	TooShort     Code = "too_short"
	EmptyValue   Code = "empty_value"
	Repeated     Code = "conflicting_repeat"
	BadICCBBA    Code = "iccbba_structure"
	LinkMismatch Code = "hibc_link"
)

// An Error says why a text is no label of these agencies.
type Error struct {
	Code   Code
	Reason string
}

func (e *Error) Error() string { return e.Reason }

func fault(c Code, format string, args ...any) error {
	return &Error{Code: c, Reason: fmt.Sprintf(format, args...)}
}

// A Field is one part of a label, in the order carried. Name is one of lic,
// pcn, uom, lot, serial, exp, mfg, qty, link and check; for ICCBBA also di, din,
// container, product, supplement, collected, blood, testing, donor and
// consignment. Value is as carried, but for dates, which are in the form of
// Date.String.
type Field struct{ Name, Value string }

// A Label is what a symbol says. Fields that it does not carry are empty.
type Label struct {
	// LIC is the labeler, PCN its product number, UoM the packaging level
	// (0 for the unit of use, 1 to 9 for packs of it).
	LIC, PCN, UoM string
	// DI is the product code of an ICCBBA label.
	DI          string
	Lot, Serial string
	Expires     Date
	Made        Date
	// Quantity is how many the label states; HasQuantity tells 0 from none.
	Quantity    int
	HasQuantity bool
	// Link is the check character of the primary symbol that a secondary
	// symbol belongs to; Check is the symbol's own. 0 where there is none.
	Link, Check byte
	Fields      []Field
	// Odd is set when the lot or serial holds a character that ANSI/HIBC
	// 2.6 does not provide for (it wants capitals and digits).
	Odd bool
}

// Primary reports whether the label names a product.
func (l *Label) Primary() bool { return l.LIC != "" || l.DI != "" }

func (l *Label) add(name, value string) { l.Fields = append(l.Fields, Field{name, value}) }
