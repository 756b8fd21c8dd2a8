package v1

import (
	"time"

	"lotbook/inventory"
	"lotbook/trace/notice"
)

// scopeLine is one line of what a notice says of lots.
type scopeLine struct {
	Kind       string   `json:"kind"`
	Lots       []string `json:"lots,omitempty"`
	From       string   `json:"from,omitempty"`
	To         string   `json:"to,omitempty"`
	Pattern    string   `json:"pattern,omitempty"`
	Made       *window  `json:"made,omitempty"`
	Expires    *window  `json:"expires,omitempty"`
	Received   *window  `json:"received,omitempty"`
	Serials    []string `json:"serials,omitempty"`
	SerialFrom string   `json:"serial_from,omitempty"`
	SerialTo   string   `json:"serial_to,omitempty"`
}

// window is a time from one day to another, both of them too.
type window struct {
	From string `json:"from,omitempty"`
	To   string `json:"to,omitempty"`
}

func (w *window) domain() inventory.Window {
	if w == nil {
		return inventory.Window{}
	}
	return inventory.Window{From: inventory.Date(w.From), To: inventory.Date(w.To)}
}

func windowOf(w inventory.Window) *window {
	if !w.Set() {
		return nil
	}
	return &window{string(w.From), string(w.To)}
}

// noticeLine is a product of a notice, with its lots.
type noticeLine struct {
	Printed string      `json:"printed,omitempty"`
	Product string      `json:"product,omitempty"`
	Scope   []scopeLine `json:"scope"`
}

func noticeLineOf(l *notice.Line) noticeLine {
	out := noticeLine{l.Printed, string(l.Product), make([]scopeLine, len(l.Scope))}
	for i := range l.Scope {
		s := &l.Scope[i]
		out.Scope[i] = scopeLine{
			string(s.Kind), s.Lots, s.From, s.To, s.Pattern, windowOf(s.Made), windowOf(s.Expires), windowOf(s.Received), s.Serials, s.SerialFrom, s.SerialTo,
		}
	}
	return out
}

// noticeAction is something that a notice asks for.
type noticeAction struct {
	ID   string `json:"id"`
	Text string `json:"text"`
	Due  string `json:"due,omitempty"`
}

// noticeText is a version of a notice, as it was written.
type noticeText struct {
	Reference string         `json:"reference"`
	Issuer    string         `json:"issuer"`
	Subject   string         `json:"subject,omitempty"`
	Class     string         `json:"class,omitempty"`
	Dated     string         `json:"dated,omitempty"`
	Received  string         `json:"received"`
	Deadline  string         `json:"deadline,omitempty"`
	Lines     []noticeLine   `json:"lines"`
	Actions   []noticeAction `json:"actions"`
	Alone     bool           `json:"alone,omitempty"`
	Note      string         `json:"note,omitempty"`
}

func noticeTextOf(v *notice.Version) noticeText {
	out := noticeText{
		v.Reference, v.Issuer, v.Subject, v.Class, string(v.Dated), string(v.Received), string(v.Deadline),
		make([]noticeLine, len(v.Lines)), make([]noticeAction, len(v.Actions)), v.Alone, v.Note,
	}
	for i := range v.Lines {
		out.Lines[i] = noticeLineOf(&v.Lines[i])
	}
	for i, a := range v.Actions {
		out.Actions[i] = noticeAction{a.ID, a.Text, string(a.Due)}
	}
	return out
}

func (t *noticeText) domain() notice.Version {
	v := notice.Version{
		Reference: t.Reference, Issuer: t.Issuer, Subject: t.Subject, Class: t.Class, Dated: inventory.Date(t.Dated), Received: inventory.Date(t.Received),
		Deadline: inventory.Date(t.Deadline), Alone: t.Alone, Note: t.Note,
	}
	for _, l := range t.Lines {
		d := notice.Line{Printed: l.Printed, Product: inventory.ProductID(l.Product)}
		for _, s := range l.Scope {
			d.Scope = append(d.Scope, inventory.ScopeLine{
				Kind: inventory.ScopeKind(s.Kind), Lots: s.Lots, From: s.From, To: s.To, Pattern: s.Pattern, Made: s.Made.domain(), Expires: s.Expires.domain(),
				Received: s.Received.domain(), Serials: s.Serials, SerialFrom: s.SerialFrom, SerialTo: s.SerialTo,
			})
		}
		v.Lines = append(v.Lines, d)
	}
	for _, a := range t.Actions {
		v.Actions = append(v.Actions, notice.Action{ID: a.ID, Text: a.Text, Due: inventory.Date(a.Due)})
	}
	return v
}

// noted is who recorded something, by which entry, and when.
type noted struct {
	Entry uint64    `json:"entry"`
	By    string    `json:"by"`
	At    time.Time `json:"at"`
}

// noticeVersion is a version with its number.
type noticeVersion struct {
	Version int `json:"version"`
	noticeText
	noted
}

type noticeDecision struct {
	Product string `json:"product"`
	Lot     string `json:"lot"`
	Meant   bool   `json:"meant"`
	Reason  string `json:"reason"`
	noted
}

func noticeDecisionOf(d *notice.Decision) noticeDecision {
	return noticeDecision{string(d.Product), d.Lot, d.Meant, d.Reason, noted{d.Entry, d.By, d.At}}
}

type noticeConfirmation struct {
	Version int `json:"version"`
	noted
}

type noticeRelease struct {
	Product string   `json:"product,omitempty"`
	Lots    []string `json:"lots,omitempty"`
	Reason  string   `json:"reason"`
	noted
}

// noticeWhole is a notice and what was decided on it.
type noticeWhole struct {
	Notice    string              `json:"notice"`
	Versions  []noticeVersion     `json:"versions"`
	Decided   []noticeDecision    `json:"decided"`
	Confirmed *noticeConfirmation `json:"confirmed,omitempty"`
	Released  []noticeRelease     `json:"released"`
	Replies   []replyLine         `json:"replies"`
}

func noticeWholeOf(s *notice.State, p *notice.Progress) noticeWhole {
	out := noticeWhole{
		string(s.ID), make([]noticeVersion, len(s.Versions)), make([]noticeDecision, len(s.Decided)), nil, make([]noticeRelease, len(s.Released)), make([]replyLine, len(p.Replied)),
	}
	for i := range s.Versions {
		v := &s.Versions[i]
		out.Versions[i] = noticeVersion{i + 1, noticeTextOf(&v.Version), noted{v.Entry, v.By, v.At}}
	}
	for i := range s.Decided {
		out.Decided[i] = noticeDecisionOf(&s.Decided[i])
	}
	if c := s.Confirmed; c != nil {
		out.Confirmed = &noticeConfirmation{c.Version, noted{c.Entry, c.By, c.At}}
	}
	for i, r := range s.Released {
		out.Released[i] = noticeRelease{string(r.Product), r.Lots, r.Reason, noted{r.Entry, r.By, r.At}}
	}
	for i := range p.Replied {
		out.Replies[i] = replyLineOf(&p.Replied[i].Reply, p.Replied[i].Done)
	}
	return out
}

// noticeSummary is a notice on the list.
type noticeSummary struct {
	Notice    string      `json:"notice"`
	Reference string      `json:"reference"`
	Issuer    string      `json:"issuer"`
	Subject   string      `json:"subject,omitempty"`
	Class     string      `json:"class,omitempty"`
	Received  string      `json:"received"`
	Deadline  string      `json:"deadline,omitempty"`
	Versions  int         `json:"versions"`
	Stage     string      `json:"stage"`
	Replies   int         `json:"replies"`
	Due       []noticeDue `json:"due"`
	Overdue   int         `json:"overdue"`
}

// noticeDue is something that is to be done until a day.
type noticeDue struct {
	Item string `json:"item"`
	What string `json:"what"`
	To   string `json:"to,omitempty"`
	Due  string `json:"due"`
}

func noticeSummaryOf(s *notice.Standing) noticeSummary {
	v := s.Latest()
	out := noticeSummary{
		Notice: string(s.ID), Reference: v.Reference, Issuer: v.Issuer, Received: string(v.Received), Versions: len(s.Versions), Stage: string(s.Stage()),
		Replies: len(s.Progress.Replied), Due: make([]noticeDue, len(s.Dues)), Overdue: s.Overdue,
	}
	subject, class, deadline := s.Said(0)
	out.Subject, out.Class, out.Deadline = subject, class, string(deadline)
	for i, d := range s.Dues {
		out.Due[i] = noticeDue{d.Item, d.What, d.To, string(d.Due)}
	}
	return out
}

// noticeLot is a lot and what a notice says of it.
type noticeLot struct {
	Product     string `json:"product"`
	ProductName string `json:"product_name,omitempty"`
	Lot         string `json:"lot"`
	Verdict     string `json:"verdict"`
	Why         string `json:"why"`
	// Part tells that only some serial numbers of the lot are meant.
	Part     bool            `json:"part,omitempty"`
	OnRecord bool            `json:"on_record"`
	Made     string          `json:"made,omitempty"`
	Expires  string          `json:"expires,omitempty"`
	Decided  *noticeDecision `json:"decided,omitempty"`
	// Undecided tells that a person has to say if it is meant.
	Undecided bool     `json:"undecided"`
	Held      bool     `json:"held"`
	Released  bool     `json:"released,omitempty"`
	Elsewhere []string `json:"same_number_of,omitempty"`
}

func noticeLotOf(m *notice.LotMatch) noticeLot {
	out := noticeLot{
		Product: string(m.Product), ProductName: m.Name, Lot: m.Lot, Verdict: m.Verdict.String(), Why: m.Why, Part: m.Part, OnRecord: m.OnRecord,
		Made: string(m.Made), Expires: string(m.Expires), Undecided: m.Undecided(), Held: m.Held, Released: m.Released,
	}
	if m.Decided != nil {
		d := noticeDecisionOf(m.Decided)
		out.Decided = &d
	}
	for _, p := range m.Elsewhere {
		out.Elsewhere = append(out.Elsewhere, string(p))
	}
	return out
}

func noticeLotsOf(list []notice.LotMatch) []noticeLot {
	out := make([]noticeLot, len(list))
	for i := range list {
		out[i] = noticeLotOf(&list[i])
	}
	return out
}
