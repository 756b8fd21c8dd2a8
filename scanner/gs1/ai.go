package gs1

//go:generate go run ./internal/aitable/gen

// Separator is how a decoder transmits FNC1 between element strings
// (ASCII 29, GS; GS1 General Specifications 7.8).
const Separator = '\x1d'

// An AI is one application identifier and the rules of its value. The values
// of this type are the package's table; they cannot be made or changed.
type AI struct {
	code, title string
	min, max    int
	predefined  bool
	query       bool
	key         bool
	index       uint16
	parts       []part
	excludes    []span
	requires    []requirement
	qualifiers  [][]uint16
}

// Code returns the identifier's two to four digits, such as "01".
func (a *AI) Code() string { return a.code }

// Title returns the data title of the GS1 General Specifications, figure 3.2-1,
// such as "USE BY or EXPIRY".
func (a *AI) Title() string { return a.title }

// Length returns the least and the greatest number of characters of a value.
func (a *AI) Length() (least, most int) { return a.min, a.max }

// Predefined reports whether the length of the value follows from the first
// two digits of the identifier, so that no separator is needed after it (GS1
// General Specifications 7.8.5). An identifier can have a fixed length
// without being predefined: (7003) is one.
func (a *AI) Predefined() bool { return a.predefined }

// Key reports whether the identifier can be the primary key of a Digital Link.
func (a *AI) Key() bool { return a.key }

// A part is one component of a value: N13 or X..17 of "N13,csum [X..17]".
type part struct {
	set      charset
	min, max uint8
	optional bool
	rules    [3]rule
}

// A span is a range of positions in table, both ends in it.
type span struct{ lo, hi uint16 }

func (s span) has(i uint16) bool { return s.lo <= i && i <= s.hi }

// A requirement is satisfied when all spans of one of its alternatives are
// met by some element.
type requirement struct {
	text string
	any  [][]span
}

type prefix struct {
	size uint8
	base uint16
}

// Lookup returns the identifier with exactly that code.
func Lookup(code string) (*AI, bool) {
	a := find(code)
	if a == nil || len(a.code) != len(code) {
		return nil, false
	}
	return a, true
}

// All returns every application identifier in the order of the codes.
func All() []*AI {
	all := make([]*AI, len(table))
	for i := range table {
		all[i] = &table[i]
	}
	return all
}

// find returns the identifier that s begins with, nil if there is none.
func find(s string) *AI {
	if len(s) < 2 || !isDigit(s[0]) || !isDigit(s[1]) {
		return nil
	}
	p := prefixes[int(s[0]-'0')*10+int(s[1]-'0')]
	at := int(p.base)
	switch p.size {
	case 2:
	case 3:
		if len(s) < 3 || !isDigit(s[2]) {
			return nil
		}
		at += int(s[2] - '0')
	case 4:
		if len(s) < 4 || !isDigit(s[2]) || !isDigit(s[3]) {
			return nil
		}
		at += int(s[2]-'0')*10 + int(s[3]-'0')
	default:
		return nil
	}
	if i := slots[at]; i != 0 {
		return &table[i-1]
	}
	return nil
}

func isDigit(c byte) bool { return c-'0' <= 9 }

// An Element is one element string: an identifier and its value as carried.
type Element struct {
	AI    *AI
	Value string
}

// Leading returns the identifier that text begins with.
func Leading(text string) (*AI, bool) {
	a := find(text)
	return a, a != nil
}
