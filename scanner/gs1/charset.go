package gs1

// A charset is one of the character sets of the GS1 General Specifications,
// 7.11: N digits; X set 82; Y set 39; Z set 64, which is base 64 for URIs.
type charset uint8

const (
	setN charset = 1 << iota
	setX
	setY
	setZ
)

const (
	digits  = "0123456789"
	upper   = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	lower   = "abcdefghijklmnopqrstuvwxyz"
	chars82 = "!\"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz"
	chars39 = "#-/" + digits + upper
	chars64 = digits + upper + lower + "-_"
)

// members says for each byte in which sets it is.
var members = func() (m [256]charset) {
	for set, chars := range map[charset]string{setN: digits, setX: chars82, setY: chars39, setZ: chars64} {
		for i := range len(chars) {
			m[chars[i]] |= set
		}
	}
	return m
}()

// InSet82 reports whether c may stand in a value such as a lot or a serial.
func InSet82(c byte) bool { return members[c]&setX != 0 }

func (s charset) check(v string) problem {
	if s == setZ {
		return checkSet64(v)
	}
	for i := range len(v) {
		if members[v[i]]&s == 0 {
			switch s {
			case setN:
				return notDigit
			case setY:
				return notSet39
			default:
				return notSet82
			}
		}
	}
	return fine
}

// checkSet64 allows the padding "=" or "==" where it makes the length a
// multiple of three, as the reference implementation of the dictionary does.
func checkSet64(v string) problem {
	n := len(v)
	for n > 0 && v[n-1] == '=' {
		n--
	}
	if pads := len(v) - n; pads > 2 || pads > 0 && len(v)%3 != 0 {
		return padding64
	}
	for i := range n {
		if members[v[i]]&setZ == 0 {
			return notSet64
		}
	}
	return fine
}
