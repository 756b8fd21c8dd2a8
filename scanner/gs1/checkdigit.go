package gs1

import "strings"

// CheckDigit returns the digit that completes a number of decimal digits, by
// the weights 3, 1, 3, … from the right (GS1 General Specifications 7.9.1).
// It reports false when s is empty or holds anything but digits.
func CheckDigit(s string) (byte, bool) {
	if s == "" {
		return 0, false
	}
	sum := 0
	for i, w := len(s)-1, 3; i >= 0; i, w = i-1, 4-w {
		if !isDigit(s[i]) {
			return 0, false
		}
		sum += int(s[i]-'0') * w
	}
	return byte('0' + (10-sum%10)%10), true
}

// HasCheckDigit reports whether the last digit of s is its check digit.
func HasCheckDigit(s string) bool {
	if len(s) < 2 {
		return false
	}
	c, ok := CheckDigit(s[:len(s)-1])
	return ok && c == s[len(s)-1]
}

// set32 holds the check characters of alphanumeric keys in the order of their
// values: no 0, 1, I and O.
const set32 = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"

// primes weigh the characters of an alphanumeric key from the right. A value
// of the two identifiers that use them is at most 25 characters long.
var primes = [...]int{2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71, 73, 79, 83}

// CheckPair returns the two check characters that complete an alphanumeric key
// such as a Global Model Number (GS1 General Specifications 7.9.5). It
// reports false when s is longer than 23 characters or leaves character set 82.
func CheckPair(s string) (string, bool) {
	if len(s) > len(primes) {
		return "", false
	}
	sum := 0
	for i := range len(s) {
		v := strings.IndexByte(chars82, s[i])
		if v < 0 {
			return "", false
		}
		sum += v * primes[len(s)-1-i]
	}
	sum %= 1021
	return string([]byte{set32[sum>>5], set32[sum&31]}), true
}

// checkPair is CheckPair as a rule; it must not allocate.
func checkPair(v string) problem {
	n := len(v) - 2
	if n < 0 || n > len(primes) {
		return badCheckPair
	}
	sum := 0
	for i := range n {
		sum += strings.IndexByte(chars82, v[i]) * primes[n-1-i]
	}
	sum %= 1021
	if v[n] != set32[sum>>5] || v[n+1] != set32[sum&31] {
		return badCheckPair
	}
	return fine
}
