package notice

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	"lotbook/inventory"
	"lotbook/inventory/journal"
	"lotbook/trace"
)

// A Reply is what the unit says to the issuer of a notice beside the answer.
type Reply struct {
	// Number counts the notice's replies, from 1.
	Number  int `json:"number"`
	Version int `json:"version"`
	ReplyWords
	// Unit and Zone are the unit's name and time zone at that time.
	Unit string `json:"unit"`
	Zone string `json:"zone"`
	// Receipt is what the answer says of receiving.
	Receipt Receipt `json:"receipt"`
	// AsOf is the journal's head that the answer was made from.
	AsOf journal.Head `json:"as_of"`
}

// ReplyWords are a person's own part of a reply. It goes to people outside the
// unit: no patient is named in it.
type ReplyWords struct {
	// To gets the reply, empty for the notice's issuer. Sent says how it goes:
	// by post, by the issuer's form.
	To   string `json:"to,omitempty"`
	Sent string `json:"sent"`
	// Site is the unit's address or number at the issuer.
	Site string `json:"site,omitempty"`
	// Adverse says whether adverse events are known, AdverseWords which.
	Adverse      Adverse `json:"adverse_events"`
	AdverseWords string  `json:"adverse_events_text,omitempty"`
	// Told is who was told of the notice in the unit and beyond it. Empty: as
	// the notice's log has it, patients in number only.
	Told []Informed `json:"told,omitempty"`
	// Signer and Role stand above the line for the signature.
	Signer string `json:"signer"`
	Role   string `json:"role"`
	Note   string `json:"note,omitempty"`
}

// Adverse says whether adverse events with what the notice names are known.
type Adverse string

// What may be said of adverse events. Nothing of it is worked out: a person
// says it.
const (
	AdverseNone    Adverse = "none_known"
	AdverseSome    Adverse = "some"
	AdverseUnasked Adverse = "not_asked" // not looked into yet
)

// Informed is somebody who was told of the notice.
type Informed struct {
	Who string         `json:"who"`
	How string         `json:"how,omitempty"`
	On  inventory.Date `json:"on,omitempty"`
}

// A Replying asks to keep an answer as the one that was given.
type Replying struct {
	Notice  ID  `json:"notice"`
	Version int `json:"version,omitempty"` // 0: the last
	ReplyWords
	// Seen is the Sum of the answer that the person saw. If the answer is
	// another one by now, it is not kept. Empty: whatever it is now.
	Seen string `json:"seen,omitempty"`
}

// Reply answers a notice and keeps the answer with the person's own words. The
// receipt's one entry is a Replied.
func (b *Book) Reply(ctx context.Context, call inventory.Call, q Replying) (inventory.Receipt, error) {
	a, err := b.Answer(ctx, q.Notice, q.Version)
	if err != nil {
		return inventory.Receipt{}, err
	}
	return b.Record(ctx, call, q, func(r inventory.Reader) ([]inventory.Event, error) {
		s, err := ByID(r, q.Notice)
		if err != nil {
			return nil, err
		}
		p, err := ProgressOf(r, s)
		if err != nil {
			return nil, err
		}
		pats, err := trace.Patients(r)
		if err != nil {
			return nil, err
		}
		if err := q.check(pats); err != nil {
			return nil, err
		}
		if q.Seen != "" && q.Seen != a.Sum() {
			return nil, inventory.Conflict("answer_changed", "Look at the answer again, then reply.", "the answer to notice %s is no longer the one that was seen", s.ID)
		}
		u, err := b.Unit(r)
		if err != nil {
			return nil, err
		}
		v := &Replied{Notice: s.ID, Reply: Reply{
			Number: len(p.Replied) + 1, Version: a.Version, ReplyWords: q.ReplyWords,
			Unit: u.Name, Zone: u.TimeZone, Receipt: a.Receipt(), AsOf: a.AsOf,
		}}
		if len(v.Told) == 0 {
			if v.Told, err = told(u, p, pats); err != nil {
				return nil, err
			}
		}
		v.Answer, err = pack(a)
		return []inventory.Event{v}, err
	})
}

// told is who the notice's log says was told, in the unit's days. Lines that
// name a patient are put together as a number.
func told(u *inventory.Unit, p *Progress, pats []trace.Patient) ([]Informed, error) {
	zone, err := u.Zone()
	if err != nil {
		return nil, err
	}
	var list []Informed
	n := 0
	for i := range p.Told {
		t := &p.Told[i]
		if named(pats, t.Who) != "" || named(pats, t.How) != "" {
			n++
			continue
		}
		list = append(list, Informed{t.Who, t.How, inventory.DateOf(t.At, zone)})
	}
	if n > 0 {
		list = append(list, Informed{Who: plural(n, "patient", "patients")})
	}
	return list, nil
}

// Sum is a sum over the answer, but for when it was made: answers with the same
// sum say the same.
func (a *Answer) Sum() string {
	c := *a
	c.AsOf, c.At, c.Moved = journal.Head{}, time.Time{}, false
	doc, err := json.Marshal(&c)
	if err != nil {
		return "" // plain data: it never fails
	}
	return journal.Hash(sha256.Sum256(doc)).String()
}

func (q *Replying) check(pats []trace.Patient) error {
	w := &q.ReplyWords
	switch {
	case strings.TrimSpace(w.Signer) == "" || strings.TrimSpace(w.Role) == "":
		return inventory.Invalid("signer", "Give the name and the role of whoever signs.", "it is not said who signs")
	case strings.TrimSpace(w.Sent) == "":
		return inventory.Invalid("sent", "Say how the reply goes to the issuer: by post, by electronic mail, by a form.", "it is not said how the reply is sent")
	case !slices.Contains([]Adverse{AdverseNone, AdverseSome, AdverseUnasked}, w.Adverse):
		return inventory.Invalid("adverse_events", "Say none_known, some, or not_asked if nobody has looked into it yet.", "%q says nothing of adverse events", w.Adverse)
	case (w.Adverse == AdverseSome) != (strings.TrimSpace(w.AdverseWords) != ""):
		return inventory.Invalid("adverse_events_text", "Describe the events, without naming patients, if there are some; else leave it out.", "adverse events are %q, and the words for them say something else", w.Adverse)
	case len(w.Told) > 200:
		return inventory.Invalid("told", "Put people together: all nurses of the unit.", "%d were told", len(w.Told))
	}
	for _, t := range w.Told {
		if strings.TrimSpace(t.Who) == "" {
			return inventory.Invalid("told", "Name who was told, or leave the line out.", "a line does not say who was told")
		}
		if err := checkDay("told", t.On); err != nil {
			return err
		}
	}
	return w.namesNobody(pats)
}

// namesNobody refuses words that hold the full name or the number of a patient:
// what goes to the issuer has counts.
func (w *ReplyWords) namesNobody(pats []trace.Patient) error {
	texts := []string{w.To, w.Sent, w.Site, w.AdverseWords, w.Note}
	for _, t := range w.Told {
		texts = append(texts, t.Who, t.How)
	}
	for _, text := range texts {
		if p := named(pats, text); p != "" {
			return inventory.Invalid("adverse_events_text", "Say it without: patients stay in the unit, the issuer gets counts.", "patient %s is named in what goes to the issuer", p)
		}
	}
	return nil
}

// named returns the first of the patients whom a text names, by the full name
// or the number. A number of a few digits may be anything, and is passed over.
func named(pats []trace.Patient, text string) trace.PatientID {
	for i := range pats {
		p := &pats[i]
		telling := len(p.ID) > 4 || strings.ContainsFunc(string(p.ID), unicode.IsLetter)
		if telling && holds(text, string(p.ID)) || holds(text, p.Name) {
			return p.ID
		}
	}
	return ""
}

// holds reports whether a text has a name in it, in any case, between what is
// no letter or digit.
func holds(text, name string) bool {
	text, name = strings.ToLower(text), strings.ToLower(strings.TrimSpace(name))
	if name == "" {
		return false
	}
	wordy := func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }
	for from := 0; ; {
		i := strings.Index(text[from:], name)
		if i < 0 {
			return false
		}
		before, after := []rune(text[:from+i]), []rune(text[from+i+len(name):])
		if (len(before) == 0 || !wordy(before[len(before)-1])) && (len(after) == 0 || !wordy(after[0])) {
			return true
		}
		from += i + len(name)
	}
}

// A KeptReply is a reply with the answer as it was given.
type KeptReply struct {
	Notice ID `json:"notice"`
	Reply
	Done
	Answer *Answer `json:"answer"`
}

// Replied returns what was answered in a reply, from 1, as it was then; 0 is the
// last one.
func (b *Book) Replied(ctx context.Context, id ID, number int) (*KeptReply, error) {
	k := &KeptReply{Notice: id}
	err := b.View(ctx, func(r inventory.Reader) error {
		s, err := ByID(r, id)
		if err != nil {
			return err
		}
		p, err := ProgressOf(r, s)
		if err != nil {
			return err
		}
		n := number
		if n == 0 {
			n = len(p.Replied)
		}
		if n < 1 || n > len(p.Replied) {
			return inventory.NotFound("reply", fmt.Sprint(number), "Look at the notice for its replies.")
		}
		row := &p.Replied[n-1]
		k.Reply, k.Done = row.Reply, row.Done
		e, err := r.Entry(row.Entry)
		if err != nil {
			return err
		}
		ev, err := b.Registry().Decode(e)
		if err != nil {
			return err
		}
		v, ok := ev.(*Replied)
		if !ok {
			return fmt.Errorf("entry %d is no reply to notice %s", row.Entry, id)
		}
		k.Answer, err = unpack(v.Answer)
		return err
	})
	return k, err
}
