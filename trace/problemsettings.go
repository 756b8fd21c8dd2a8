package trace

import (
	"context"
	"encoding/json"
	"slices"
	"strings"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// A SeenKind is something that may be wrong with a product, in a short list: one
// touch in gloves.
type SeenKind struct {
	Code string `json:"code"`
	Text string `json:"text"`
}

// StandardSeen is the list that every unit has: common practice, no source.
func StandardSeen() []SeenKind {
	return []SeenKind{
		{"blood_leak", "Blood leak"},
		{"leak", "Other leak"},
		{"clotted", "Clotted"},
		{"air", "Air in the line"},
		{"broken", "Broken or cracked"},
		{"loose", "Came apart"},
		{"blocked", "Blocked, no flow"},
		{"alarm", "Machine alarm"},
		{"looks_odd", "Particles, colour, smell"},
		{"packaging", "Packaging damaged"},
		{"label", "Label wrong or unreadable"},
		{"patient", "Patient reacted"},
		{"other", "Something else"},
	}
}

// ProblemSettings are how a unit keeps problems.
type ProblemSettings struct {
	// Seen is added to StandardSeen. One that was used stays in the entries
	// that name it, whatever becomes of the list.
	Seen []SeenKind `json:"seen,omitempty"`
	// WithinDays is in which time problems of one lot are brought together,
	// AtLeast from how many on.
	WithinDays int `json:"within_days"`
	AtLeast    int `json:"at_least"`
	// Facility holds what is the same in each report of this unit, by the keys
	// of ProblemDetails.
	Facility map[string]string `json:"facility,omitempty"`
}

// DefaultProblemSettings are what holds until a unit sets its own: two problems
// of a lot in 90 days. Common practice, no source.
func DefaultProblemSettings() ProblemSettings { return ProblemSettings{WithinDays: 90, AtLeast: 2} }

// AllSeen returns the standard list and then the unit's own.
func (s *ProblemSettings) AllSeen() []SeenKind { return append(StandardSeen(), s.Seen...) }

// SeenText returns the words of a code, or the code where the list has it no more.
func (s *ProblemSettings) SeenText(code string) string {
	for _, k := range s.AllSeen() {
		if k.Code == code {
			return k.Text
		}
	}
	return code
}

func (s *ProblemSettings) check() error {
	if s.WithinDays < 1 || s.WithinDays > 3660 || s.AtLeast < 2 || s.AtLeast > 1000 {
		return inventory.Invalid("within_days", "Give 1 to 3660 days, and from 2 problems on.", "problems are brought together within %d days from %d on", s.WithinDays, s.AtLeast)
	}
	if len(s.Seen) > 50 {
		return inventory.Invalid("seen", "Keep the list short: it is read in gloves.", "%d kinds of problems", len(s.Seen))
	}
	codes := map[string]bool{}
	for _, k := range StandardSeen() {
		codes[k.Code] = true
	}
	for _, k := range s.Seen {
		switch {
		case strings.TrimSpace(k.Code) == "" || !rowcode.Valid(k.Code) || len(k.Code) > 64 || strings.TrimSpace(k.Text) == "" || len(k.Text) > 64:
			return inventory.Invalid("seen", "Give a short code and a few words.", "a kind of problem has no code or no text, or is longer than 64 bytes")
		case codes[k.Code]:
			return inventory.Invalid("seen", "Choose another code: one that is there keeps its meaning.", "there is %q already", k.Code)
		}
		codes[k.Code] = true
	}
	return checkDetails("facility", s.Facility)
}

// ProblemsSet changes how a unit keeps problems. It holds all of the settings.
type ProblemsSet struct{ ProblemSettings }

// Kind implements inventory.Event.
func (*ProblemsSet) Kind() string { return "problems.set" }

// Project implements inventory.Event.
func (v *ProblemsSet) Project(w inventory.Writer, _ journal.Entry) error {
	return putDoc(w, ixProblemSet, "problems", &v.ProblemSettings)
}

// ProblemSettingsOf returns how the unit keeps problems.
func ProblemSettingsOf(r inventory.Reader) (ProblemSettings, error) {
	row, err := r.Get(ixProblemSet, rowcode.AppendText(nil, "problems"))
	if err != nil || row == nil {
		return DefaultProblemSettings(), err
	}
	var s ProblemSettings
	return s, json.Unmarshal(row, &s)
}

// SetProblems records how the unit keeps problems.
func (b *Book) SetProblems(ctx context.Context, call inventory.Call, s ProblemSettings) (inventory.Receipt, error) {
	return b.Record(ctx, call, s, func(inventory.Reader) ([]inventory.Event, error) {
		return []inventory.Event{&ProblemsSet{s}}, s.check()
	})
}

// knownSeen says whether codes are in the unit's list, in a Refusal if not.
func (s *ProblemSettings) knownSeen(codes []string) error {
	all := s.AllSeen()
	for _, c := range codes {
		if !slices.ContainsFunc(all, func(k SeenKind) bool { return k.Code == c }) {
			return inventory.Invalid("seen", "Choose from the list, or say it in words.", "there is no kind of problem %q", c)
		}
	}
	return nil
}
