package xlsx

import (
	"fmt"
	"strings"
	"unicode/utf16"

	"lotbook/reports"
)

// maxName is how long a sheet's name may be, in UTF-16 units.
const maxName = 31

// names hands out names of sheets: what Excel takes, each one once, whatever
// the case.
type names struct{ taken map[string]bool }

// "History" is a name that Excel keeps for itself.
func newNames() *names { return &names{taken: map[string]bool{"history": true}} }

// take returns want as a name that is free, or the next of "want (2)", …
func (n *names) take(want string) string {
	base := cleanName(want)
	for i := 1; ; i++ {
		name := cutUTF16(base, maxName)
		if i > 1 {
			mark := fmt.Sprintf(" (%d)", i)
			name = strings.TrimRight(cutUTF16(base, maxName-len(mark)), " ") + mark
		}
		if key := strings.ToLower(name); !n.taken[key] {
			n.taken[key] = true
			return name
		}
	}
}

// cleanName replaces what a sheet's name must not hold: : \ / ? * [ ] and, as
// they would have to be doubled in references, apostrophes.
func cleanName(s string) string {
	s = strings.Map(func(r rune) rune {
		switch r {
		case ':', '\\', '/', '?', '*', '[', ']':
			return '-'
		case '\'':
			return '’'
		}
		return r
	}, reports.Visible(s, false))
	// Visible may have written a backslash; it has gone to a dash with the
	// others, as Map looks at the visible text.
	s = strings.TrimSpace(s)
	if s == "" {
		return "Sheet"
	}
	return s
}

// cutUTF16 returns the longest start of s that has at most n UTF-16 units.
func cutUTF16(s string, n int) string {
	if len(s) <= n {
		return s
	}
	for i, r := range s {
		if n -= utf16.RuneLen(r); n < 0 {
			return s[:i]
		}
	}
	return s
}
