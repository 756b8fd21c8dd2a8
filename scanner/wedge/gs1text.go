package wedge

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	"lotbook/scanner/gs1"
)

// Context is what is known beside the text.
type Context struct {
	Now     time.Time
	Profile Profile
	// Known returns what earlier confirmed scans of a GTIN showed, nil if
	// there were none. It may be nil.
	Known func(gtin string) *Known
	// Identified is set when a symbology identifier came with the text, so
	// that it is certain that this is an element string and that the case of
	// its letters is right.
	Identified bool
	// Swapped is set when the case of the letters was swapped because of
	// the identifier: Caps Lock may have been on, or a scanner or a field
	// may have made everything capitals.
	Swapped bool
}

// An Outcome is what a text says, or may say.
type Outcome struct {
	// Elements are the reading, or, when there are several Readings and
	// none is Chosen, the text as carried if that is valid by itself.
	Elements []gs1.Element
	// Text is the text with separators put right, where that is certain.
	Text string
	// Readings are all readings that fit, best first, if there are several.
	Readings [][]gs1.Element
	// Chosen is set when Elements was chosen among several Readings.
	Chosen   bool
	Warnings []Warning
}

func (o *Outcome) warn(code, message string) {
	o.Warnings = append(o.Warnings, Warning{code, message})
}

func (o *Outcome) contradict() {
	o.warn("profile_contradicted", "the separator arrived, which the scanner's profile says it does not; scan the test sheet again with this scanner")
}

// ReadGS1 reads an element string as it came from a keyboard scanner, without
// symbology identifier. The error is a *gs1.Error. See the package
// documentation for what it takes on itself and what it leaves to a person.
func ReadGS1(text string, c Context) (Outcome, error) {
	var o Outcome
	text = strings.Trim(text, " ")
	switch sep := c.Profile.Separator; sep {
	case "":
	case Dropped:
		if strings.Contains(text, gs) {
			o.contradict()
		}
	case gs:
		return c.exact(o, text)
	default:
		if strings.Contains(text, gs) && !strings.Contains(text, sep) {
			o.contradict()
			return c.exact(o, text)
		}
		return c.profiled(text, sep)
	}
	if strings.Contains(text, gs) {
		return c.exact(o, text)
	}
	if els, ok := spaced(text, c.Now); ok && strings.Contains(text, " ") {
		o.Elements, o.Text = els, gs1.Format(els)
		o.warn("spaces_removed", "the text was typed with spaces; they were taken out")
		return o, nil
	}
	text = bare(text)
	if out, ok, err := c.standIn(text); ok || err != nil {
		return out, err
	}
	if out, ok := c.spelled(text); ok {
		return out, nil
	}
	return c.doubtful(text)
}

// standIn reads a text that holds what no value can hold, so that it stands for
// the separator. ok is false where nothing does.
func (c Context) standIn(text string) (o Outcome, ok bool, err error) {
	var readings [][]gs1.Element
	var texts []string
	what := ""
	for _, s := range spellings(text) {
		if !s.certain {
			continue
		}
		spelled := strings.TrimPrefix(s.text, gs)
		els, fault := gs1.Parse(spelled, c.Now)
		if fault != nil {
			err = fault
			continue
		}
		if what == "" {
			what = s.standIn
		}
		readings, texts = append(readings, els), append(texts, spelled)
	}
	if readings == nil {
		return Outcome{}, false, err
	}
	o.warn("separator_stand_in", readable(what)+" was read as the separator, because no GS1 value can hold it")
	if len(distinct(readings)) > 1 {
		return c.settle(o, distinct(readings), nil, false, text), true, nil
	}
	o.Elements, o.Text = readings[0], texts[0]
	return c.cased(o), true, nil
}

// readable writes what cannot be seen as U+0000 does.
func readable(s string) string {
	if strings.ContainsFunc(s, func(r rune) bool { return !unicode.IsGraphic(r) || r == ' ' }) {
		return fmt.Sprintf("%+q", s)
	}
	return s
}

// exact reads a text whose separators are certain.
func (c Context) exact(o Outcome, text string) (Outcome, error) {
	text = strings.TrimPrefix(text, gs)
	els, err := gs1.Parse(text, c.Now)
	if err != nil {
		return Outcome{}, err
	}
	o.Elements, o.Text = els, text
	return c.cased(o), nil
}

// profiled reads a text whose separators arrive as the profile says.
func (c Context) profiled(text, sep string) (Outcome, error) {
	var o Outcome
	replaced := strings.ReplaceAll(text, sep, gs)
	o, err := c.exact(o, replaced)
	if err == nil {
		return o, nil
	}
	if len(sep) == 1 && gs1.InSet82(sep[0]) {
		// The stand-in may stand for itself here and there.
		work := maxWork
		s := search{text: text, standIn: sep, now: c.Now, work: &work}
		if rs := s.readings(); len(rs) > 0 {
			o := Outcome{Text: text}
			o.warn("separator_stand_in", "the scanner sends "+sep+" for the separator, and this text holds one that is data")
			return c.settle(o, rs, nil, s.cut, text), nil
		}
	}
	return Outcome{}, err
}

// spelled reads a text that spells the separator in characters that a value
// could hold too, such as <GS>. No label maker would, so that reading is
// taken; the others are listed.
func (c Context) spelled(text string) (Outcome, bool) {
	for _, spelled := range spellings(text) {
		els, err := gs1.Parse(strings.TrimPrefix(spelled.text, gs), c.Now)
		if err != nil {
			continue
		}
		o := Outcome{Elements: els, Text: strings.TrimPrefix(spelled.text, gs)}
		work := maxWork
		s := search{text: text, now: c.Now, work: &work}
		if rs := s.readings(); len(rs) > 0 {
			o.Readings = append([][]gs1.Element{els}, rs...)
			o.Chosen = true
		}
		o.warn("separator_stand_in", spelled.standIn+" was read as the separator; if it is printed on the label itself, choose another reading")
		return o, true
	}
	return Outcome{}, false
}

// doubtful reads a text that holds nothing that is certainly a separator.
func (c Context) doubtful(text string) (Outcome, error) {
	strict, err := gs1.Parse(text, c.Now)
	if err != nil && c.Identified {
		return Outcome{}, err
	}
	var rs [][]gs1.Element
	cut, work := false, maxWork
	for _, t := range c.cases(text) {
		standIns := []string{""}
		if c.Profile.Separator != Dropped {
			standIns = append(append(heldIn(t, quiet), ""), heldIn(t, rare)...)
		}
		for _, standIn := range standIns {
			s := search{text: t, now: c.Now, standIn: standIn, work: &work}
			rs = append(rs, s.readings()...)
			cut = cut || s.cut
		}
	}
	if needsSeparator(strict) && (len(text) > maxSearch || work < 0) {
		return Outcome{}, &gs1.Error{Code: gs1.TooLong, Offset: -1, Reason: "the text holds no separator and has too many readings to list; set the scanner up to send the separator"}
	}
	rs = distinct(rs)
	o := Outcome{Text: text, Elements: strict}
	switch {
	case len(rs) == 0 && err != nil:
		return Outcome{}, err
	case len(rs) == 0, len(rs) == 1 && err == nil:
		return o, nil
	}
	return c.settle(o, rs, strict, cut, text), nil
}

// needsSeparator reports whether a value without predefined length stands
// among the elements.
func needsSeparator(els []gs1.Element) bool {
	return els == nil || slices.ContainsFunc(els, func(e gs1.Element) bool { return !e.AI.Predefined() })
}

// settle decides between readings.
func (c Context) settle(o Outcome, rs [][]gs1.Element, strict []gs1.Element, cut bool, text string) Outcome {
	if len(rs) == 1 {
		o.Elements = rs[0]
		o.Text = gs1.Format(rs[0])
		if strict == nil {
			o.warn("separator_lost", "the separators did not arrive as such; this is the only reading that fits")
		}
		return o
	}
	if k := c.known(rs); k != nil {
		if one, ok := k.single(rs, text, c.Now); ok {
			rs = first(rs, one)
			o.Elements, o.Text, o.Readings, o.Chosen = one, gs1.Format(one), rs, true
			o.warn("separator_known", "the separators did not arrive; the reading was chosen because earlier scans of this product have the same order and its lots and serials the same shape")
			return o
		}
		rs = k.rank(rs)
	}
	o.Readings = rs
	if !c.Identified {
		o.Elements = nil
	}
	if !c.caseKnown() && AllSmall(text) {
		o.warn("caps_lock_suspected", capsDoubt)
	} else {
		o.warn("separator_doubt", "the text holds no separator and can be read in several ways; touch the reading that is printed on the label")
	}
	if cut {
		o.warn("readings_cut", "there are more readings than are listed; compare with the print")
	}
	return o
}

// known looks up the product of the readings if they agree on it.
func (c Context) known(rs [][]gs1.Element) *Known {
	if c.Known == nil {
		return nil
	}
	gtin := gtinOf(rs[0])
	for _, r := range rs[1:] {
		if gtinOf(r) != gtin {
			return nil
		}
	}
	if gtin == "" {
		return nil
	}
	return c.Known(gtin)
}

func gtinOf(els []gs1.Element) string {
	for _, e := range els {
		if e.AI.Code() == "01" {
			return e.Value
		}
	}
	return ""
}

// single returns the one reading that fits order and masks, if there is just
// one.
func (k *Known) single(rs [][]gs1.Element, text string, now time.Time) ([]gs1.Element, bool) {
	found, whole := k.directed(text, now)
	for _, r := range rs {
		if k.Fits(r) {
			found = append(found, r)
		}
	}
	found = distinct(found)
	if !whole || len(found) != 1 {
		return nil, false
	}
	return found[0], true
}

// rank puts readings of a known order and of known shapes first.
func (k *Known) rank(rs [][]gs1.Element) [][]gs1.Element {
	points := func(r []gs1.Element) int {
		n := 0
		if k.order(r) {
			n += 2
		}
		if k.masks(r) {
			n++
		}
		return n
	}
	rs = slices.Clone(rs)
	slices.SortStableFunc(rs, func(a, b []gs1.Element) int { return points(b) - points(a) })
	return rs
}

// first moves a reading to the front, or adds it there.
func first(rs [][]gs1.Element, one []gs1.Element) [][]gs1.Element {
	out := [][]gs1.Element{one}
	for _, r := range rs {
		if !slices.Equal(r, one) {
			out = append(out, r)
		}
	}
	return out
}

// distinct drops readings that occur twice.
func distinct(rs [][]gs1.Element) [][]gs1.Element {
	var out [][]gs1.Element
	for _, r := range rs {
		if !slices.ContainsFunc(out, func(o []gs1.Element) bool { return slices.Equal(o, r) }) {
			out = append(out, r)
		}
	}
	return out
}

// spaced reads a text that was typed as it is printed, with spaces between the
// identifiers and the values: 01 09506000117843 17 271231 10 LOT42.
func spaced(text string, now time.Time) ([]gs1.Element, bool) {
	words := strings.Fields(text)
	var els []gs1.Element
	for i := 0; i < len(words); i++ {
		w := words[i]
		a, ok := gs1.Leading(w)
		if !ok {
			return nil, false
		}
		value := w[len(a.Code()):]
		if value == "" && i+1 < len(words) {
			i++
			value = words[i]
		}
		if !a.Accepts(value, now) {
			return nil, false
		}
		els = append(els, gs1.Element{AI: a, Value: value})
	}
	return els, len(els) > 0 && gs1.Check(els) == nil
}
