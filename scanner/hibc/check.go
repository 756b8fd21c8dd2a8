package hibc

import "strings"

// values are the 43 characters in the order of their values (ANSI/HIBC 2.6,
// appendix B; the same as in Code 39).
const values = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-. $/+%"

// CheckChar returns the check character of s, which begins with the plus sign:
// the sum of the characters' values modulo 43. It reports false when s holds
// a character that has no value.
func CheckChar(s string) (byte, bool) {
	sum := 0
	for i := range len(s) {
		v := strings.IndexByte(values, s[i])
		if v < 0 {
			return 0, false
		}
		sum += v
	}
	return values[sum%43], true
}
