package trace

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/inventory/rowcode"
)

// A ProblemID names a problem with a product: "PB" and the number of the entry
// that reported it.
type ProblemID string

// ProblemFacts are what a report of a problem, or a follow-up to one, says. What
// is empty is not said. Nothing in it is required.
type ProblemFacts struct {
	// Treatment in which it was seen, and Use, the entry there that recorded
	// the product, or the stopped scan of it.
	Treatment TreatmentID `json:"treatment,omitempty"`
	Use       uint64      `json:"use,omitempty"`
	// What it was seen on, as far as it is known. Code is what was scanned, as
	// it was carried.
	Category inventory.Category  `json:"category,omitempty"`
	Product  inventory.ProductID `json:"product,omitempty"`
	GTIN     string              `json:"gtin,omitempty"`
	Lot      string              `json:"lot,omitempty"`
	Serial   string              `json:"serial,omitempty"`
	Expires  inventory.Date      `json:"expires,omitempty"`
	Code     string              `json:"code,omitempty"`
	// Seen are codes of the unit's list; Words is what was seen in words.
	Seen  []string `json:"seen,omitempty"`
	Words string   `json:"words,omitempty"`
	// Kept says what became of the item, KeptWhere where it is.
	Kept      Kept   `json:"kept,omitempty"`
	KeptWhere string `json:"kept_where,omitempty"`
	// Outcomes are what became of the patient, and Done what was done for the
	// patient, as the person recorded it.
	Outcomes []Outcome `json:"outcomes,omitempty"`
	Done     string    `json:"done,omitempty"`
	// Details are further fields of a report, by their keys: see
	// ProblemDetails.
	Details map[string]string `json:"details,omitempty"`
}

// Kept says what became of the item that had the problem.
type Kept string

// What may become of it.
const (
	KeptHere     Kept = "kept"
	KeptReturned Kept = "returned" // to the maker
	KeptGone     Kept = "thrown_away"
)

// Keeps returns all of them, in the order of a list.
func Keeps() []Kept { return []Kept{KeptHere, KeptReturned, KeptGone} }

// Title returns it in words.
func (k Kept) Title() string {
	return map[Kept]string{KeptHere: "Kept", KeptReturned: "Returned to the maker", KeptGone: "Thrown away"}[k]
}

// An Outcome is what became of the patient, as the person recorded it. Whether
// that has to be reported is not for this program to say.
type Outcome string

// The outcomes: those that 21 CFR 803.32(b)(2) names, and what else may be
// recorded (common practice, no source).
const (
	OutcomeNone         Outcome = "none_seen"
	OutcomeMild         Outcome = "harm_not_lasting"
	OutcomeHospital     Outcome = "hospital"
	OutcomeIntervention Outcome = "intervention"
	OutcomeDisability   Outcome = "permanent_damage"
	OutcomeThreatening  Outcome = "life_threatening"
	OutcomeDeath        Outcome = "death"
)

// Outcomes returns all of them, in the order of a list.
func Outcomes() []Outcome {
	return []Outcome{OutcomeNone, OutcomeMild, OutcomeHospital, OutcomeIntervention, OutcomeDisability, OutcomeThreatening, OutcomeDeath}
}

// Title returns it in words.
func (o Outcome) Title() string {
	return map[Outcome]string{
		OutcomeNone: "No harm seen", OutcomeMild: "Harm that did not last", OutcomeHospital: "Taken to hospital, or kept longer",
		OutcomeIntervention: "Needed intervention to prevent permanent damage", OutcomeDisability: "Permanent damage or disability",
		OutcomeThreatening: "Life threatening", OutcomeDeath: "Death",
	}[o]
}

// add takes what a later part says over what was said before. Who names another
// product or lot has another item in hand: what was known of the first one's
// serial, expiry date and code then no longer counts.
func (f *ProblemFacts) add(g *ProblemFacts) {
	if g.Treatment != "" && g.Treatment != f.Treatment {
		f.Treatment, f.Use = g.Treatment, 0
	}
	if g.Product != "" && g.Product != f.Product || g.Lot != "" && g.Lot != f.Lot {
		f.Use, f.GTIN, f.Serial, f.Expires, f.Code = 0, "", "", "", ""
		if g.Product != "" && g.Product != f.Product {
			f.Category, f.Lot = "", ""
		}
	}
	if g.Use != 0 {
		f.Use = g.Use
	}
	set(&f.Category, g.Category)
	set(&f.Product, g.Product)
	set(&f.GTIN, g.GTIN)
	set(&f.Lot, g.Lot)
	set(&f.Serial, g.Serial)
	set(&f.Expires, g.Expires)
	set(&f.Code, g.Code)
	set(&f.Kept, g.Kept)
	set(&f.KeptWhere, g.KeptWhere)
	if len(g.Seen) > 0 {
		f.Seen = g.Seen
	}
	if len(g.Outcomes) > 0 {
		f.Outcomes = g.Outcomes
	}
	if len(g.Details) > 0 {
		d := maps.Clone(f.Details)
		if d == nil {
			d = map[string]string{}
		}
		maps.Copy(d, g.Details)
		f.Details = d
	}
}

func set[S ~string](to *S, s S) {
	if s != "" {
		*to = s
	}
}

// A ProblemPart is what one entry said of a problem: the report itself or a
// follow-up.
type ProblemPart struct {
	Entry  uint64    `json:"entry"`
	At     time.Time `json:"at"`
	By     string    `json:"by"`
	Struck uint64    `json:"struck,omitempty"`
	ProblemFacts
}

// A ProblemPicture is a picture that belongs to a problem. Its bytes are in the
// entry: see PictureOf.
type ProblemPicture struct {
	Entry  uint64    `json:"entry"`
	At     time.Time `json:"at"`
	By     string    `json:"by"`
	About  string    `json:"about,omitempty"`
	Width  int       `json:"width"`
	Height int       `json:"height"`
	Bytes  int       `json:"bytes"`
	Struck uint64    `json:"struck,omitempty"`
}

// A Problem is something that was wrong with a product, as far as it was
// recorded. Its facts are those of all parts that stand, later ones over earlier
// ones; Words and Done stay with their parts.
type Problem struct {
	ID ProblemID `json:"problem"`
	// At is when it was seen.
	At       time.Time `json:"at"`
	Recorded time.Time `json:"recorded"`
	By       string    `json:"by"`
	Entry    uint64    `json:"entry"`
	Struck   uint64    `json:"struck,omitempty"`
	ProblemFacts
	Parts    []ProblemPart    `json:"parts"`
	Pictures []ProblemPicture `json:"pictures,omitempty"`
}

// facts adds up the parts that stand.
func (p *Problem) facts() {
	p.ProblemFacts = ProblemFacts{}
	for i := range p.Parts {
		if p.Parts[i].Struck == 0 {
			p.add(&p.Parts[i].ProblemFacts)
		}
	}
}

// Standing returns the pictures that were not struck out.
func (p *Problem) Standing() []ProblemPicture {
	return slices.DeleteFunc(slices.Clone(p.Pictures), func(q ProblemPicture) bool { return q.Struck != 0 })
}

func (p *Problem) atKey() []byte {
	return rowcode.AppendText(rowcode.AppendTime(nil, p.At), string(p.ID))
}

// save writes a problem's row and puts it into the list by time, with what a
// list of all of them needs. Problems that were struck out are not in it.
func (p *Problem) save(w inventory.Writer) error {
	p.facts()
	if p.Struck != 0 {
		if err := w.Delete(ixProblemAt, p.atKey()); err != nil {
			return err
		}
		return putDoc(w, ixProblem, string(p.ID), p)
	}
	doc, err := json.Marshal(p.line())
	if err != nil {
		return err
	}
	if err := w.Put(ixProblemAt, p.atKey(), doc); err != nil {
		return err
	}
	return putDoc(w, ixProblem, string(p.ID), p)
}

// ProblemByID returns a problem, also one that was struck out, or a Refusal that
// is inventory.ErrNotFound.
func ProblemByID(r inventory.Reader, id ProblemID) (*Problem, error) {
	p := new(Problem)
	if !rowcode.Valid(string(id)) {
		return nil, inventory.NotFound("problem", strings.ToValidUTF8(string(id), ""), "Choose one of the list.")
	}
	return p, getDoc(r, ixProblem, "problem", string(id), p)
}

// changeProblem reads a problem, changes it and writes it.
func changeProblem(w inventory.Writer, id ProblemID, change func(*Problem) error) error {
	p, err := ProblemByID(w, id)
	if err != nil {
		return err
	}
	if err := change(p); err != nil {
		return err
	}
	return p.save(w)
}

// strikePart marks a part of a problem as struck out.
func strikePart(p *Problem, e, c journal.Entry) error {
	for i := range p.Parts {
		if p.Parts[i].Entry == e.Seq {
			p.Parts[i].Struck = c.Seq
			return nil
		}
	}
	for i := range p.Pictures {
		if p.Pictures[i].Entry == e.Seq {
			p.Pictures[i].Struck = c.Seq
			return nil
		}
	}
	return fmt.Errorf("problem %s has no part of entry %d", p.ID, e.Seq)
}
