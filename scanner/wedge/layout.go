package wedge

import (
	"strings"
	"unicode"
)

// A Layout is a keyboard layout, named by its country as ISO 3166 does, but for
// the two of the English language.
type Layout string

// The layouts that are known.
const (
	US         Layout = "us"
	UK         Layout = "uk"
	German     Layout = "de"
	French     Layout = "fr"
	Spanish    Layout = "es"
	Italian    Layout = "it"
	Swiss      Layout = "ch"
	Swedish    Layout = "se" // and Finnish
	Danish     Layout = "dk"
	Norwegian  Layout = "no"
	Belgian    Layout = "be"
	Portuguese Layout = "pt"
)

// Layouts lists the known layouts, the most common first.
func Layouts() []Layout {
	return []Layout{US, German, French, UK, Spanish, Italian, Swiss, Swedish, Danish, Norwegian, Belgian, Portuguese}
}

// A keyboard is what each of 47 keys types, alone and with Shift, key by key
// from the upper left of the block of letters (ISO/IEC 9995-2, keys E00 to
// B10), and which of these are dead: they wait for a letter and go on it.
type keyboard struct {
	plain, shift []rune
	dead         string
	at           map[rune]int // the key of a character, counting on from 47 with Shift
}

// keyboards are those of xkeyboard-config 2.35.1, with which a test compares
// them; those of Windows are the same but for marks that GS1 values don't hold
// (from memory).
var keyboards = map[Layout]*keyboard{
	US: board("`1234567890-=qwertyuiop[]asdfghjkl;'\\zxcvbnm,./",
		"~!@#$%^&*()_+QWERTYUIOP{}ASDFGHJKL:\"|ZXCVBNM<>?", ""),
	UK: board("`1234567890-=qwertyuiop[]asdfghjkl;'#zxcvbnm,./",
		"¬!\"£$%^&*()_+QWERTYUIOP{}ASDFGHJKL:@~ZXCVBNM<>?", ""),
	German: board("^1234567890ß´qwertzuiopü+asdfghjklöä#yxcvbnm,.-",
		"°!\"§$%&/()=?`QWERTZUIOPÜ*ASDFGHJKLÖÄ'YXCVBNM;:_", "^`´"),
	French: board("²&é\"'(-è_çà)=azertyuiop^$qsdfghjklmù*wxcvbn,;:!",
		"~1234567890°+AZERTYUIOP¨£QSDFGHJKLM%µWXCVBN?./§", "^¨"),
	Spanish: board("º1234567890'¡qwertyuiop`+asdfghjklñ´çzxcvbnm,.-",
		"ª!\"·$%&/()=?¿QWERTYUIOP^*ASDFGHJKLÑ¨ÇZXCVBNM;:_", "^`¨´"),
	Italian: board("\\1234567890'ìqwertyuiopè+asdfghjklòàùzxcvbnm,.-",
		"|!\"£$%&/()=?^QWERTYUIOPé*ASDFGHJKLç°§ZXCVBNM;:_", ""),
	Swiss: board("§1234567890'^qwertzuiopü¨asdfghjklöä$yxcvbnm,.-",
		"°+\"*ç%&/()=?`QWERTZUIOPè!ASDFGHJKLéà£YXCVBNM;:_", "^`¨"),
	Swedish: board("§1234567890+´qwertyuiopå¨asdfghjklöä'zxcvbnm,.-",
		"½!\"#¤%&/()=?`QWERTYUIOPÅ^ASDFGHJKLÖÄ*ZXCVBNM;:_", "^`¨´"),
	Danish: board("½1234567890+´qwertyuiopå¨asdfghjklæø'zxcvbnm,.-",
		"§!\"#¤%&/()=?`QWERTYUIOPÅ^ASDFGHJKLÆØ*ZXCVBNM;:_", "^`¨´"),
	Norwegian: board("|1234567890+\\qwertyuiopå¨asdfghjkløæ'zxcvbnm,.-",
		"§!\"#¤%&/()=?`QWERTYUIOPÅ^ASDFGHJKLØÆ*ZXCVBNM;:_", "^`¨"),
	Belgian: board("²&é\"'(§è!çà)-azertyuiop^$qsdfghjklmùµwxcvbn,;:=",
		"³1234567890°_AZERTYUIOP¨*QSDFGHJKLM%£WXCVBN?./+", "^¨"),
	Portuguese: board("\\1234567890'«qwertyuiop+´asdfghjklçº~zxcvbnm,.-",
		"|!\"#$%&/()=?»QWERTYUIOP*`ASDFGHJKLÇª^ZXCVBNM;:_", "^`~´"),
}

func board(plain, shift, dead string) *keyboard {
	k := &keyboard{plain: []rune(plain), shift: []rune(shift), dead: dead, at: map[rune]int{}}
	for i, r := range append(append([]rune(nil), k.plain...), k.shift...) {
		if _, twice := k.at[r]; !twice {
			k.at[r] = i
		}
	}
	return k
}

// types returns what a key types, counting on from 47 with Shift.
func (k *keyboard) types(key int) rune {
	if key < len(k.plain) {
		return k.plain[key]
	}
	return k.shift[key-len(k.plain)]
}

// with returns the key that counts when Caps Lock is on: with Shift and without
// change places, for letters or for all keys.
func (k *keyboard) with(caps Caps, key int) int {
	n := len(k.plain)
	at := key % n
	if caps == CapsShift || caps == CapsOn && unicode.IsLetter(k.plain[at]) && unicode.ToUpper(k.plain[at]) == k.shift[at] {
		return (key + n) % (2 * n)
	}
	return key
}

// pressed returns the keys that were pressed for a character: one, or a dead key
// and a letter.
func (k *keyboard) pressed(r rune) (keys [2]int, n int) {
	if i, ok := k.at[r]; ok {
		return [2]int{i}, 1
	}
	if mark, letter := apart(r); mark != 0 && strings.ContainsRune(k.dead, mark) {
		a, ok1 := k.at[mark]
		b, ok2 := k.at[letter]
		if ok1 && ok2 {
			return [2]int{a, b}, 2
		}
	}
	return keys, 0
}

// apart parts a letter that a dead key made from its mark; 0 for any other.
func apart(r rune) (mark, letter rune) {
	const marks, letters = "`´^~¨", "AEIOUaeiou"
	for i, made := range []string{"ÀÈÌÒÙàèìòù", "ÁÉÍÓÚáéíóú", "ÂÊÎÔÛâêîôû", "Ã\x00\x00Õ\x00ã\x00\x00õ\x00", "ÄËÏÖÜäëïöü"} {
		if at := indexRune([]rune(made), r); at >= 0 {
			return []rune(marks)[i], rune(letters[at])
		}
	}
	return 0, 0
}

func indexRune(rs []rune, r rune) int {
	for i, x := range rs {
		if x == r {
			return i
		}
	}
	return -1
}

// Translate returns what the scanner meant: it pressed the keys that give the
// text on its own layout, and the computer typed what those keys give on the
// host's. Spaces and control characters pass. It reports false when the text
// holds a character that the host's layout cannot type.
func Translate(typed string, scanner, host Layout) (string, bool) {
	return Remap(typed, scanner, host, CapsOff)
}

// Remap is Translate, and undoes Caps Lock on the host.
func Remap(typed string, scanner, host Layout, caps Caps) (string, bool) {
	return remap(typed, scanner, host, caps, func(s, h *keyboard, r rune) (out [2]rune) {
		keys, n := h.pressed(r)
		for i, key := range keys[:n] {
			out[i] = s.types(h.with(caps, key))
		}
		return out
	})
}

// Typed is the inverse of Remap: what a computer types for a text. Marks of dead
// keys stand before their letters. It reports false when the scanner's layout
// has no key for it.
func Typed(text string, scanner, host Layout, caps Caps) (string, bool) {
	return remap(text, scanner, host, caps, func(s, h *keyboard, r rune) (out [2]rune) {
		if key, ok := s.at[r]; ok {
			out[0] = h.types(h.with(caps, key))
		}
		return out
	})
}

func remap(text string, scanner, host Layout, caps Caps, one func(s, h *keyboard, r rune) [2]rune) (string, bool) {
	if scanner == "" || host == "" {
		scanner, host = US, US
	}
	if scanner == host && caps != CapsShift {
		if caps == CapsOn {
			text = SwapCase(text)
		}
		return text, true
	}
	s, h := keyboards[scanner], keyboards[host]
	if s == nil || h == nil {
		return text, false
	}
	var b strings.Builder
	b.Grow(len(text))
	for _, r := range text {
		if r <= ' ' {
			b.WriteRune(r)
			continue
		}
		out := one(s, h, r)
		if out[0] == 0 {
			return text, false
		}
		b.WriteRune(out[0])
		if out[1] != 0 {
			b.WriteRune(out[1])
		}
	}
	return b.String(), true
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
