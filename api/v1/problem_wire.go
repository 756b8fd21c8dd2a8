package v1

import (
	"time"

	"lotbook/inventory"
	"lotbook/trace"
)

// A productProblem is a problem with a product; a problem alone is what went
// wrong with a request.
type productProblem struct {
	Problem  string    `json:"problem"`
	At       time.Time `json:"at"`
	Recorded time.Time `json:"recorded"`
	By       string    `json:"by"`
	Entry    uint64    `json:"entry"`
	Struck   uint64    `json:"struck_out,omitempty"`
	problemFacts
	Name     string           `json:"product_name,omitempty"`
	Patient  string           `json:"patient,omitempty"`
	Machine  string           `json:"machine,omitempty"`
	Station  string           `json:"station,omitempty"`
	Parts    []problemPart    `json:"parts"`
	Pictures []problemPicture `json:"pictures"`
}

// problemFacts are what a problem's entry says, or all of them together.
type problemFacts struct {
	Treatment string            `json:"treatment,omitempty"`
	Use       uint64            `json:"use,omitempty"`
	Category  string            `json:"category,omitempty"`
	Product   string            `json:"product,omitempty"`
	GTIN      string            `json:"gtin,omitempty"`
	Lot       string            `json:"lot,omitempty"`
	Serial    string            `json:"serial,omitempty"`
	Expires   string            `json:"expires,omitempty"`
	Code      string            `json:"code,omitempty"`
	Seen      []string          `json:"seen,omitempty"`
	Words     string            `json:"words,omitempty"`
	Kept      string            `json:"kept,omitempty"`
	KeptWhere string            `json:"kept_where,omitempty"`
	Outcomes  []string          `json:"outcomes,omitempty"`
	Done      string            `json:"done,omitempty"`
	Details   map[string]string `json:"details,omitempty"`
}

func problemFactsOf(f *trace.ProblemFacts) problemFacts {
	return problemFacts{
		string(f.Treatment), f.Use, string(f.Category), string(f.Product), f.GTIN, f.Lot, f.Serial, string(f.Expires), f.Code,
		f.Seen, f.Words, string(f.Kept), f.KeptWhere, texts(f.Outcomes), f.Done, f.Details,
	}
}

func (f *problemFacts) domain() trace.ProblemFacts {
	out := trace.ProblemFacts{
		Treatment: trace.TreatmentID(f.Treatment), Use: f.Use, Category: inventory.Category(f.Category), Product: inventory.ProductID(f.Product),
		GTIN: gtin14(f.GTIN), Lot: f.Lot, Serial: f.Serial, Expires: inventory.Date(f.Expires), Code: f.Code, Seen: f.Seen, Words: f.Words,
		Kept: trace.Kept(f.Kept), KeptWhere: f.KeptWhere, Done: f.Done, Details: f.Details,
	}
	for _, o := range f.Outcomes {
		out.Outcomes = append(out.Outcomes, trace.Outcome(o))
	}
	return out
}

func texts[S ~string](list []S) (out []string) {
	for _, s := range list {
		out = append(out, string(s))
	}
	return out
}

// problemPart is what one entry said.
type problemPart struct {
	Entry  uint64    `json:"entry"`
	At     time.Time `json:"at"`
	By     string    `json:"by"`
	Struck uint64    `json:"struck_out,omitempty"`
	problemFacts
}

// problemPicture is a picture of a problem, without its bytes.
type problemPicture struct {
	Entry  uint64    `json:"entry"`
	At     time.Time `json:"at"`
	By     string    `json:"by"`
	Struck uint64    `json:"struck_out,omitempty"`
	About  string    `json:"about,omitempty"`
	Width  int       `json:"width"`
	Height int       `json:"height"`
	Bytes  int       `json:"bytes"`
}

func productProblemOf(p *trace.ProblemRow) productProblem {
	out := productProblem{
		Problem: string(p.ID), At: p.At, Recorded: p.Recorded, By: p.By, Entry: p.Entry, Struck: p.Struck, problemFacts: problemFactsOf(&p.ProblemFacts),
		Name: p.Name, Patient: string(p.Patient), Machine: string(p.Machine), Station: string(p.Station), Parts: []problemPart{}, Pictures: []problemPicture{},
	}
	for i := range p.Parts {
		q := &p.Parts[i]
		out.Parts = append(out.Parts, problemPart{q.Entry, q.At, q.By, q.Struck, problemFactsOf(&q.ProblemFacts)})
	}
	for _, q := range p.Pictures {
		out.Pictures = append(out.Pictures, problemPicture{q.Entry, q.At, q.By, q.Struck, q.About, q.Width, q.Height, q.Bytes})
	}
	return out
}

// together is problems within the unit's time of each other.
type together struct {
	Product    string    `json:"product"`
	Name       string    `json:"product_name,omitempty"`
	Lot        string    `json:"lot,omitempty"`
	Count      int       `json:"count"`
	Lots       int       `json:"lots"`
	Treatments int       `json:"treatments"`
	First      time.Time `json:"first"`
	Last       time.Time `json:"last"`
	Problems   []string  `json:"problems"`
}

func togetherOf(t *trace.Together) *together {
	if t == nil {
		return nil
	}
	return &together{string(t.Product), t.Name, t.Lot, t.Count, t.Lots, t.Treatments, t.First, t.Last, texts(t.Problems)}
}

func togetherList(list []trace.Together) []together {
	out := []together{}
	for i := range list {
		out = append(out, *togetherOf(&list[i]))
	}
	return out
}
