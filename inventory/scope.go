package inventory

import (
	"fmt"
	"slices"
)

// A Scope says which lots of a product somebody means, as a field notice puts
// it: line by line. What one of the lines means is meant.
type Scope []ScopeLine

// A ScopeKind says how a line names lots.
type ScopeKind string

// How a line names lots.
const (
	ScopeLots    ScopeKind = "lots"    // the numbers listed
	ScopeRange   ScopeKind = "range"   // from one number to another, both of them too
	ScopePattern ScopeKind = "pattern" // * stands for any characters, ? for one, # for a digit
	ScopeAll     ScopeKind = "all"     // every lot
	ScopeNoLot   ScopeKind = "no_lot"  // pieces that bear no lot number
)

// A ScopeLine is one line of a Scope. Its windows and serials narrow what its
// kind says: all lots, made in March.
type ScopeLine struct {
	Kind    ScopeKind `json:"kind"`
	Lots    []string  `json:"lots,omitempty"`
	From    string    `json:"from,omitempty"`
	To      string    `json:"to,omitempty"`
	Pattern string    `json:"pattern,omitempty"`

	Made     Window `json:"made,omitzero"`
	Expires  Window `json:"expires,omitzero"`
	Received Window `json:"received,omitzero"`
	// Serials are single ones; SerialFrom and SerialTo are a range.
	Serials    []string `json:"serials,omitempty"`
	SerialFrom string   `json:"serial_from,omitempty"`
	SerialTo   string   `json:"serial_to,omitempty"`
}

// A Window is a time from one day to another, both of them too. An empty side
// is open.
type Window struct {
	From Date `json:"from,omitempty"`
	To   Date `json:"to,omitempty"`
}

// Set reports whether the window narrows anything.
func (w Window) Set() bool { return w != Window{} }

// has says whether a day lies in the window; an unknown day may.
func (w Window) has(d Date) Verdict {
	switch {
	case !w.Set():
		return Meant
	case d == "":
		return Doubtful
	case (w.From != "" && d < w.From) || (w.To != "" && d > w.To):
		return NotMeant
	}
	return Meant
}

// A Verdict says whether a scope means a lot.
type Verdict int

// The verdicts, in rising order. What is doubtful is for a person to decide.
const (
	NotMeant Verdict = iota
	Doubtful
	Meant
)

var verdictWords = []string{"not meant", "in doubt", "meant"}

// String returns the verdict in words.
func (v Verdict) String() string { return verdictWords[v] }

// MarshalText makes a Verdict words in JSON.
func (v Verdict) MarshalText() ([]byte, error) { return []byte(v.String()), nil }

// UnmarshalText reads what MarshalText writes.
func (v *Verdict) UnmarshalText(b []byte) error {
	i := slices.Index(verdictWords, string(b))
	if i < 0 {
		return fmt.Errorf("%q is no verdict", b)
	}
	*v = Verdict(i)
	return nil
}

// A Match is a verdict and what it rests on, in words; Line is the line of the
// scope, from 0, that says so, -1 if none does.
type Match struct {
	Verdict Verdict `json:"verdict"`
	Why     string  `json:"why"`
	Line    int     `json:"line"`
	// Part is set where the lot is meant, but only some of its serial
	// numbers, and the piece's is not known: nobody can decide that for the lot.
	Part bool `json:"part,omitempty"`
}

// Pieces are what a Scope judges: a lot, with what is known of it.
type Pieces struct {
	Lot     string // empty: not known, or none
	Serial  string // of one piece; empty for the lot as a whole
	Made    Date
	Expires Date
	// Received are the days on which pieces of the lot came in.
	Received []Date
}

// Match says whether the scope means some pieces: the surest that a line says.
func (s Scope) Match(p *Pieces) Match {
	return s.match(p, NotMeant)
}

// match is Match; least is what a person decided on the lot: every line that
// may mean it then does, and if there is none, the lot is meant as a whole.
func (s Scope) match(p *Pieces, least Verdict) Match {
	best := Match{Verdict: NotMeant, Why: "no line names it", Line: -1}
	named := false
	for i := range s {
		m := s[i].match(p, least)
		m.Line = i
		named = named || m.lot != NotMeant
		if m.Verdict > best.Verdict {
			best = m.Match
		}
	}
	if !named && least == Meant {
		return Match{Verdict: Meant, Why: decidedMeant, Line: -1}
	}
	return best
}

const decidedMeant = "decided: it is meant"

// needsReceived reports whether a line asks when a lot came in.
func (s Scope) needsReceived() bool {
	return slices.ContainsFunc(s, func(l ScopeLine) bool { return l.Received.Set() })
}

// ListedLots are the numbers that the scope names one by one, bounds of ranges
// among them.
func (s Scope) ListedLots() []string {
	var list []string
	for i := range s {
		for _, n := range append(slices.Clone(s[i].Lots), s[i].From, s[i].To) {
			if n != "" && !slices.Contains(list, n) {
				list = append(list, n)
			}
		}
	}
	return list
}

// A lineMatch is a Match and what the line says of the lot, without the serial.
type lineMatch struct {
	Match
	lot Verdict
}

// match says whether the line means some pieces, and why.
func (l *ScopeLine) match(p *Pieces, least Verdict) lineMatch {
	var m lineMatch
	m.Verdict, m.Why = l.matchLot(p.Lot)
	if m.Verdict == NotMeant {
		return m
	}
	narrow := func(w Verdict, reason string) {
		if w < m.Verdict {
			m.Verdict, m.Why = w, reason
		}
	}
	narrow(l.Made.has(p.Made), "when it was made is not on record, or lies outside")
	narrow(l.Expires.has(p.Expires), "when it expires is not on record, or lies outside")
	if l.Received.Set() {
		narrow(l.Received.any(p.Received), "when it came in is not on record, or lies outside")
	}
	if m.Verdict != NotMeant && least == Meant {
		m.Verdict, m.Why = Meant, decidedMeant
	}
	m.lot = m.Verdict
	if v, why := l.matchSerial(p.Serial); v < m.Verdict {
		m.Part = m.Verdict == Meant && p.Serial == ""
		m.Verdict, m.Why = v, why
	}
	return m
}

// any says whether one of the days lies in the window.
func (w Window) any(days []Date) Verdict {
	if len(days) == 0 {
		return Doubtful
	}
	best := NotMeant
	for _, d := range days {
		best = max(best, w.has(d))
	}
	return best
}

func (l *ScopeLine) matchLot(n string) (Verdict, string) {
	switch {
	case l.Kind == ScopeAll:
		return Meant, "all lots are meant"
	case l.Kind == ScopeNoLot && n == "":
		return Meant, "pieces without a lot number are meant, and none is on record"
	case l.Kind == ScopeNoLot:
		return NotMeant, "only pieces without a lot number are meant"
	case n == "":
		return Doubtful, "no lot number is on record"
	}
	switch l.Kind {
	case ScopeRange:
		return matchRange(l.From, l.To, n)
	case ScopePattern:
		return matchPattern(l.Pattern, n)
	}
	return matchList(l.Lots, n)
}

func matchList(list []string, n string) (Verdict, string) {
	if slices.Contains(list, n) {
		return Meant, "it is listed"
	}
	for _, m := range list {
		if LooksLike(m, n) {
			return Doubtful, fmt.Sprintf("it reads almost as %s, which is listed", m)
		}
	}
	return NotMeant, "it is not listed"
}

func matchPattern(pattern, n string) (Verdict, string) {
	switch {
	case like(pattern, n):
		return Meant, fmt.Sprintf("it has the form %s", pattern)
	case like(alike(pattern), alike(n)):
		return Doubtful, fmt.Sprintf("it has the form %s but for what people confuse", pattern)
	}
	return NotMeant, "it has another form"
}

// like reports whether a text has the form of a pattern. It looks back to the
// last star only, so that its cost is the product of the lengths at most.
func like(pattern, text string) bool {
	p, t := []rune(pattern), []rune(text)
	i, j, star, mark := 0, 0, -1, 0
	for j < len(t) {
		switch {
		case i < len(p) && p[i] == '*':
			star, mark = i, j
			i++
		case i < len(p) && fits(p[i], t[j]):
			i++
			j++
		case star >= 0:
			mark++
			i, j = star+1, mark
		default:
			return false
		}
	}
	for i < len(p) && p[i] == '*' {
		i++
	}
	return i == len(p)
}

func fits(p, c rune) bool {
	return p == c || p == '?' || (p == '#' && '0' <= c && c <= '9')
}

func (l *ScopeLine) matchSerial(serial string) (Verdict, string) {
	if len(l.Serials) == 0 && l.SerialFrom == "" {
		return Meant, ""
	}
	if serial == "" {
		return Doubtful, "only some serial numbers are meant, and no serial number is on record"
	}
	best, why := NotMeant, "its serial number is not meant"
	if v, w := matchList(l.Serials, serial); v > best {
		best, why = v, "serial number: "+w
	}
	if l.SerialFrom != "" {
		if v, w := matchRange(l.SerialFrom, l.SerialTo, serial); v > best {
			best, why = v, "serial number: "+w
		}
	}
	return best, why
}
