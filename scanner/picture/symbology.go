package picture

import (
	"strings"
	"unicode/utf8"

	"github.com/makiuchi-d/gozxing"
)

// separator is what FNC1 between two elements is given as (GS1 General
// Specifications 7.8.2).
const separator = '\x1d'

// linearText turns the result of one of gozxing's linear readers into a
// symbology identifier and text; ok is false where the symbol's own checks
// don't support it.
func linearText(r *gozxing.Result) (symbology, text string, ok bool) {
	t := r.GetText()
	switch r.GetBarcodeFormat() {
	case gozxing.BarcodeFormat_CODE_128:
		symbology, text, err := code128Text(r.GetRawBytes())
		return symbology, text, err == nil && text != ""
	case gozxing.BarcodeFormat_EAN_13:
		return "]E0", t, len(t) == 13 && mod10(t)
	case gozxing.BarcodeFormat_UPC_A:
		// ISO/IEC 15424: UPC-A and UPC-E are sent as 13 digits.
		t = "0" + t
		return "]E0", t, len(t) == 13 && mod10(t)
	case gozxing.BarcodeFormat_UPC_E:
		t = upcE(t)
		return "]E0", t, len(t) == 13 && mod10(t)
	case gozxing.BarcodeFormat_EAN_8:
		return "]E4", t, len(t) == 8 && mod10(t)
	case gozxing.BarcodeFormat_ITF:
		// An ITF has no check of its own, and a part of one is a valid ITF
		// too; only the 14 digits of a GTIN are taken.
		return "]I1", t, len(t) == 14 && mod10(t)
	case gozxing.BarcodeFormat_CODE_39:
		return "]A0", t, len(t) >= 4
	}
	return "", "", false
}

// mod10 checks the GS1 check digit, weights 3,1,3… from the right.
func mod10(s string) bool {
	sum := 0
	for i := range len(s) {
		d := int(s[i] - '0')
		if d < 0 || d > 9 {
			return false
		}
		if (len(s)-1-i)%2 == 1 {
			d *= 3
		}
		sum += d
	}
	return len(s) > 0 && sum%10 == 0
}

// upcE expands the 8 digits of a UPC-E to 13 (GS1 General Specifications
// 5.2.2.4, zero suppression).
func upcE(s string) string {
	if len(s) != 8 {
		return ""
	}
	d := s[1:7]
	switch last := d[5]; last {
	case '0', '1', '2':
		d = d[:2] + string(last) + "0000" + d[2:5]
	case '3':
		d = d[:3] + "00000" + d[3:5]
	case '4':
		d = d[:4] + "00000" + d[4:5]
	default:
		d = d[:5] + "0000" + string(last)
	}
	return "0" + s[:1] + d + s[7:]
}

// matrixText cleans the text of a DataMatrix or QR code: the FNC1 that says
// GS1 is taken off (gozxing leaves it in DataMatrix and not in QR), and bytes
// above 127 that gozxing left as they are become ISO 8859-1.
func matrixText(symbology, text string) string {
	switch symbology {
	case "]d2", "]d5", "]Q3", "]Q4":
		text = strings.TrimPrefix(text, string(separator))
	}
	if utf8.ValidString(text) {
		return text
	}
	r := make([]rune, len(text))
	for i := range len(text) {
		r[i] = rune(text[i])
	}
	return string(r)
}
