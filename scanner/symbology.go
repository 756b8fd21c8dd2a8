package scanner

// A class says what the text of a symbology may be.
type class uint8

const (
	classUnknown class = iota
	// classGS1: element strings, FNC1 as U+001D.
	classGS1
	// classEAN13: 13 digits, a UPC with zeros in front; with an add-on of
	// two or five digits for classEAN13AddOn.
	classEAN13
	classEAN13AddOn
	classEAN8
	// classITF: 14 digits with a check digit.
	classITF
	// classOther: no element strings; HIBC, ISBT 128, a Digital Link or
	// plain text.
	classOther
)

// classOf looks up an AIM symbology identifier (ISO/IEC 15424; GS1 General
// Specifications, figure 5.1.3-1). ]d7 to ]dC are those of rectangular
// extended DataMatrix (ISO/IEC 21471), in the order of ]d1 to ]d6: from memory,
// and as an independent encoder's own notes say of ]d8.
func classOf(id string) class {
	switch id {
	case "]C1", "]d2", "]d8", "]Q3", "]J1", "]e0", "]e1", "]e2":
		return classGS1
	case "]E0":
		return classEAN13
	case "]E3":
		return classEAN13AddOn
	case "]E4":
		return classEAN8
	case "]I1":
		return classITF
	case "]A0", "]A1", "]A2", "]A3", "]A4", "]A5", "]A7", "]C0", "]C2", "]C4", "]d0", "]d1", "]d3", "]d4", "]d5", "]d6", "]d7", "]d9", "]dA", "]dB", "]dC",
		"]Q0", "]Q1", "]Q2", "]Q4", "]Q5", "]Q6", "]J0", "]J2", "]J3", "]J4", "]J5", "]J6", "]J7",
		"]z0", "]z1", "]z2", "]z3", "]I0", "]I3", "]F0", "]G0", "]L0", "]L1", "]L2", "]E1", "]E2", "]X0":
		return classOther
	default:
		return classUnknown
	}
}

func knownSymbology(id string) bool { return classOf(id) != classUnknown }

// cutSymbology splits off a known symbology identifier.
func cutSymbology(text string) (id, rest string) {
	if len(text) >= 3 && text[0] == ']' && knownSymbology(text[:3]) {
		return text[:3], text[3:]
	}
	return "", text
}
