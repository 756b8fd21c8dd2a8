package wedge

import "strings"

// A Layout is a keyboard layout.
type Layout string

// The layouts that are known.
const (
	US      Layout = "us"
	UK      Layout = "uk"
	German  Layout = "de"
	French  Layout = "fr"
	Spanish Layout = "es"
	Italian Layout = "it"
)

// Layouts lists the known layouts, the most common first.
func Layouts() []Layout { return []Layout{US, German, French, UK, Spanish, Italian} }

// keys lists what each key types, alone and with Shift, key by key from the
// upper left of the block of letters (ISO/IEC 9995; the layouts are those that
// Windows ships, from memory). The 47 keys are the same places in each list.
func (l Layout) keys() (plain, shift []rune) {
	switch l {
	case US:
		return []rune("`1234567890-=qwertyuiop[]asdfghjkl;'\\zxcvbnm,./"),
			[]rune("~!@#$%^&*()_+QWERTYUIOP{}ASDFGHJKL:\"|ZXCVBNM<>?")
	case UK:
		return []rune("`1234567890-=qwertyuiop[]asdfghjkl;'#zxcvbnm,./"),
			[]rune("¬!\"£$%^&*()_+QWERTYUIOP{}ASDFGHJKL:@~ZXCVBNM<>?")
	case German:
		return []rune("^1234567890ß´qwertzuiopü+asdfghjklöä#yxcvbnm,.-"),
			[]rune("°!\"§$%&/()=?`QWERTZUIOPÜ*ASDFGHJKLÖÄ'YXCVBNM;:_")
	case French:
		return []rune("²&é\"'(-è_çà)=azertyuiop^$qsdfghjklmù*wxcvbn,;:!"),
			[]rune("\x001234567890°+AZERTYUIOP¨£QSDFGHJKLM%µWXCVBN?./§")
	case Spanish:
		return []rune("º1234567890'¡qwertyuiop`+asdfghjklñ´çzxcvbnm,.-"),
			[]rune("ª!\"·$%&/()=?¿QWERTYUIOP^*ASDFGHJKLÑ¨ÇZXCVBNM;:_")
	case Italian:
		return []rune("\\1234567890'ìqwertyuiopè+asdfghjklòàùzxcvbnm,.-"),
			[]rune("|!\"£$%&/()=?^QWERTYUIOPé*ASDFGHJKLç°§ZXCVBNM;:_")
	default:
		return nil, nil
	}
}

// Translate returns what the scanner meant: it pressed the keys that give the
// text on its own layout, and the computer typed what those keys give on the
// host's. Spaces and control characters pass. It reports false when the text
// holds a character that the host's layout cannot type.
func Translate(typed string, scanner, host Layout) (string, bool) {
	if scanner == host || scanner == "" || host == "" {
		return typed, true
	}
	hp, hs := host.keys()
	sp, ss := scanner.keys()
	if hp == nil || sp == nil {
		return typed, false
	}
	var b strings.Builder
	for _, r := range typed {
		switch {
		case r <= ' ':
			b.WriteRune(r)
			continue
		}
		meant := rune(0)
		if i := indexRune(hp, r); i >= 0 {
			meant = sp[i]
		} else if i := indexRune(hs, r); i >= 0 {
			meant = ss[i]
		}
		if meant == 0 {
			return "", false
		}
		b.WriteRune(meant)
	}
	return b.String(), true
}

func indexRune(rs []rune, r rune) int {
	for i, x := range rs {
		if x == r {
			return i
		}
	}
	return -1
}

// SwapCase undoes Caps Lock: every ASCII letter changes its case.
func SwapCase(s string) string {
	b := []byte(s)
	for i, c := range b {
		if 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' {
			b[i] = c ^ 0x20
		}
	}
	return string(b)
}
