package account

import (
	_ "embed"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// The length of a password, in characters. NIST SP 800-63B asks for at least 8
// and for letting people choose at least 64, without rules about which
// characters; 10 leaves a margin for the minimum costs of the hash.
const (
	MinPassword = 10
	MaxPassword = 1024
)

//go:embed common.txt
var commonText string

// normalize makes the same characters the same bytes, however a keyboard
// composes them (NFC, as in the OpaqueString profile of RFC 8265).
func normalize(password string) string { return norm.NFC.String(password) }

// CheckPassword says whether a user may choose a password. The error is a
// Refusal of the field "password" with one of the codes invalid, too_short,
// too_long, common and own_name. There are no rules about which characters a
// password has.
func CheckPassword(password string, id UserID, name string) error {
	bad := func(code, message, hint string) error { return invalid("password", code, message, hint) }
	if !utf8.ValidString(password) {
		return bad("invalid", "the password is not text in UTF-8", "send it in UTF-8")
	}
	password = normalize(password)
	n := utf8.RuneCountInString(password)
	switch {
	case n < MinPassword:
		return bad("too_short", fmt.Sprintf("the password has %d characters", n),
			fmt.Sprintf("use at least %d; a few words that don't belong together are easy to remember", MinPassword))
	case n > MaxPassword:
		return bad("too_long", fmt.Sprintf("the password has %d characters", n), fmt.Sprintf("use at most %d", MaxPassword))
	}
	folded := fold(password)
	if isCommon(folded) || isRepetition(password) {
		return bad("common", "this is one of the first passwords that anybody would try",
			"choose another; a few words that don't belong together are easy to remember")
	}
	for _, own := range []string{string(id), name, strings.ReplaceAll(name, " ", "")} {
		if own != "" && folded == fold(own) {
			return bad("own_name", "the password is the user's own name", "choose another")
		}
	}
	return nil
}

// fold takes off what people add to a word to make it pass: capitals, and
// digits and punctuation at the end. A text of nothing else stays whole.
func fold(s string) string {
	s = strings.ToLower(s)
	if t := strings.TrimRightFunc(s, func(r rune) bool { return !unicode.IsLetter(r) }); t != "" {
		return t
	}
	return s
}

// isCommon looks a folded password up in the list, which is short and is read
// only when somebody chooses a password.
func isCommon(folded string) bool {
	for line := range strings.Lines(commonText) {
		line = strings.TrimSpace(line)
		if line != "" && line[0] != '#' && line == folded {
			return true
		}
	}
	return false
}

// isRepetition reports whether s repeats a piece of at most three characters.
func isRepetition(s string) bool {
	r := []rune(strings.ToLower(s))
	for n := 1; n <= 3; n++ {
		same := true
		for i := n; i < len(r) && same; i++ {
			same = r[i] == r[i-n]
		}
		if same {
			return true
		}
	}
	return false
}
