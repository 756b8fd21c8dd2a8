package picture

import (
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/japanese"
	"golang.org/x/text/encoding/korean"
	"golang.org/x/text/encoding/simplifiedchinese"
	"golang.org/x/text/encoding/traditionalchinese"
	"golang.org/x/text/encoding/unicode"
)

// A charsetText collects bytes whose meaning may change on the way: an ECI says
// which character set the bytes after it are in. It begins with ISO 8859-1.
type charsetText struct {
	bytes   []byte // since the last ECI
	done    strings.Builder
	eci     int // 0: none yet
	unknown bool
}

func (t *charsetText) add(s string) { t.bytes = append(t.bytes, s...) }

// charset begins a part in another character set, by its ECI number.
func (t *charsetText) charset(eci int) {
	t.flush()
	t.eci = eci
}

// text is everything, or false where a character set isn't known or the bytes
// are not of it: a wrong text is worse than none.
func (t *charsetText) text() (string, bool) {
	t.flush()
	return t.done.String(), !t.unknown
}

func (t *charsetText) flush() {
	if len(t.bytes) == 0 {
		return
	}
	e, ok := eciCharset(t.eci)
	if !ok {
		t.unknown = true
		return
	}
	out, err := e.NewDecoder().Bytes(t.bytes)
	if err != nil || strings.ContainsRune(string(out), utf8.RuneError) {
		t.unknown = true
	}
	t.done.Write(out)
	t.bytes = t.bytes[:0]
}

// eciCharset is the character set of an ECI (AIM ITS/04-023, from memory). Those
// that aren't text (binary, 899) or aren't here are refused.
func eciCharset(eci int) (encoding.Encoding, bool) {
	switch eci {
	case 0, 1, 3:
		return charmap.ISO8859_1, true
	case 2:
		return charmap.CodePage437, true
	case 20:
		return japanese.ShiftJIS, true
	case 25:
		return unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM), true
	case 26:
		return unicode.UTF8, true
	case 27, 170: // ASCII
		return charmap.ISO8859_1, true
	case 28:
		return traditionalchinese.Big5, true
	case 29:
		return simplifiedchinese.GBK, true
	case 30:
		return korean.EUCKR, true
	case 32:
		return simplifiedchinese.GB18030, true
	}
	parts := map[int]encoding.Encoding{
		4: charmap.ISO8859_2, 5: charmap.ISO8859_3, 6: charmap.ISO8859_4, 7: charmap.ISO8859_5,
		8: charmap.ISO8859_6, 9: charmap.ISO8859_7, 10: charmap.ISO8859_8, 11: charmap.ISO8859_9,
		12: charmap.ISO8859_10, 15: charmap.ISO8859_13, 16: charmap.ISO8859_14,
		17: charmap.ISO8859_15, 18: charmap.ISO8859_16,
		21: charmap.Windows1250, 22: charmap.Windows1251, 23: charmap.Windows1252, 24: charmap.Windows1256,
	}
	e, ok := parts[eci]
	return e, ok
}
