package web

import (
	"net/url"
	"regexp"
	"strings"

	"lotbook/inventory"
)

// codeText finds where, in what a person may have written, a code begins that
// was scanned into the field: an identifier of a symbology (]d2), bracketed
// element strings, a GS1 Digital Link, a GTIN in element strings, HIBC, a date
// followed by lot or serial, or a separator. assets/app/1-fields.js looks for the same.
var codeText = regexp.MustCompile(`(\][A-Za-z]\d|\((?:01|02|10|11|17|21)\)[0-9A-Za-z]|https?://\S+/01/\d|01\d{14}|\+[A-Z][A-Z0-9]{6,}|\x1d)|(?:^|[^0-9])(1[17]\d{6}(?:10|21)\S)`)

// codeIn reports whether a code was scanned into a field for a lot or a product.
// Their numbers may look like a date and a lot.
func codeIn(s string) bool {
	at := codeText.FindStringSubmatchIndex(s)
	return at != nil && at[2] >= 0
}

// wordFields are the fields of the setup page's forms that people write in, but
// for those that a code belongs into.
var wordFields = []string{"reason", "reason_typed", "cause_typed", "note", "note_typed", "quantity", "minutes", "at", "lot", "expires"}

// byMistake ends the reasons that stand in the fields beforehand: a code may
// have been scanned in front of them.
const byMistake = "entered by mistake"

// longestWords is how many bytes somebody may write into one field.
const longestWords = 400

// strayCode looks for a code that was scanned into a field for something else,
// such as a reason. If there is one the form becomes that scan, with what a
// replacement says beside it, and is not what its button says.
func strayCode(v url.Values) (url.Values, bool) {
	for _, name := range wordFields {
		s := v.Get(name)
		at := codeText.FindStringSubmatchIndex(s)
		if at == nil {
			continue
		}
		begin := at[2]
		switch {
		case name == "lot" && !codeIn(s):
			continue
		case begin < 0:
			begin = at[4]
		case s[begin] == 0x1d:
			begin = 0
		}
		scan := url.Values{"action": {"scan"}, "key": v["key"], "text": {strings.TrimSuffix(s[begin:], byMistake)}, "line": v["line"]}
		if v.Get("action") == "scan" {
			for _, keep := range []string{"replaces", "cause", "opened", "category"} {
				scan[keep] = v[keep]
			}
		}
		return scan, true
	}
	return v, false
}

// tooLong refuses what is longer than anybody writes in one line.
func tooLong(v url.Values) error {
	for _, name := range wordFields {
		if len(v.Get(name)) > longestWords {
			return inventory.Invalid(name, "Say it shorter.", "this is longer than %d characters", longestWords)
		}
	}
	return nil
}
