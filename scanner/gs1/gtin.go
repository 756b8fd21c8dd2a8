package gs1

import "fmt"

// PadGTIN returns a GTIN of 8, 12, 13 or 14 digits as 14 digits, filled up with
// zeros on the left, which is how GTINs are compared (GS1 General
// Specifications 3.3.2). The check digit must fit. An error is an *Error.
func PadGTIN(s string) (string, error) {
	switch {
	case !allDigits(s):
		return "", &Error{Code: NotDigits, Offset: -1, Reason: fmt.Sprintf("%q is no GTIN: it holds more than digits; type the digits below the bars", clip(s))}
	case len(s) != 8 && len(s) != 12 && len(s) != 13 && len(s) != 14:
		return "", &Error{Code: BadLength, Offset: -1, Reason: fmt.Sprintf("a GTIN has 8, 12, 13 or 14 digits, not %d; type all digits below the bars", len(s))}
	case !HasCheckDigit(s):
		return "", &Error{Code: BadCheckDigit, Offset: -1, Reason: "the check digit of the GTIN does not fit; scan it again, and if that does not help compare the digits with the print"}
	}
	return "000000"[:14-len(s)] + s, nil
}

// ExpandUPCE returns the 12 digits (UPC-A) that an eight-digit UPC-E stands
// for: number system 0 or 1, six digits, check digit (GS1 General
// Specifications 5.2.2.4.2). It reports false when s is no UPC-E.
func ExpandUPCE(s string) (string, bool) {
	if len(s) != 8 || !allDigits(s) || s[0] > '1' {
		return "", false
	}
	d, last := s[1:7], s[6]
	var body string
	switch {
	case last <= '2':
		body = d[:2] + string(last) + "0000" + d[2:5]
	case last == '3':
		body = d[:3] + "00000" + d[3:5]
	case last == '4':
		body = d[:4] + "00000" + d[4:5]
	default:
		body = d[:5] + "0000" + string(last)
	}
	full := s[:1] + body + s[7:]
	return full, HasCheckDigit(full)
}

// EAN8 and UPC-E cannot be told apart by their eight digits when both check
// digits fit. ReadEight returns the GTIN-14 of each reading that is valid, ""
// for one that is not.
func ReadEight(s string) (ean8, upce string) {
	if len(s) == 8 && allDigits(s) && HasCheckDigit(s) {
		ean8 = "000000" + s
	}
	if full, ok := ExpandUPCE(s); ok {
		upce = "00" + full
	}
	return ean8, upce
}

// Indicator returns the first digit of a GTIN-14: 0 for the base pack, 1 to 8
// for packs of it, 9 for a pack of varying measure (GS1 General
// Specifications 2.1.6).
func Indicator(gtin14 string) (byte, bool) {
	if len(gtin14) != 14 || !allDigits(gtin14) {
		return 0, false
	}
	return gtin14[0] - '0', true
}

// NDC10 returns the ten digits of the US National Drug Code that a GTIN-14
// holds: indicator, "03", NDC, check digit. Where its hyphens stood cannot be
// told (4-4-2, 5-3-2 and 5-4-1 exist).
func NDC10(gtin14 string) (string, bool) {
	if len(gtin14) != 14 || gtin14[1:3] != "03" || !HasCheckDigit(gtin14) {
		return "", false
	}
	return gtin14[3:13], true
}
