package reports

import (
	"fmt"
	"strings"
	"time"

	"lotbook/inventory"
	"lotbook/trace/notice"
)

// NoticeReply is what was answered to the issuer of a field notice, as a
// Workbook: counts, and no patient, no treatment and nobody's store at home.
// Its first sheet is the letter. It is made from what was kept, and from
// nothing else.
func NoticeReply(k *notice.KeptReply, paper Paper) (*Workbook, error) {
	by, err := KeptAsked(k, paper)
	if err != nil {
		return nil, err
	}
	a := k.Answer
	w := by.workbook("Reply to field notice " + a.Reference)
	w.Sheets = []Sheet{
		{Name: "Reply", Summary: &Summary{Sections: replySections(k, &by)}},
		{Name: "Every piece", Table: orNone(massTable(a), receiptMark(k.Receipt))},
		{Name: "Transferred to", Table: orNone(unitsTable(a), NoneFound())},
	}
	return w, nil
}

// KeptAsked is the head of a report that is made again from a reply: who signed
// it, in the unit as it was called then.
func KeptAsked(k *notice.KeptReply, paper Paper) (Asked, error) {
	zone, err := time.LoadLocation(k.Zone)
	if err != nil {
		return Asked{}, fmt.Errorf("the time zone of reply %d: %w", k.Number, err)
	}
	return Asked{By: k.Signer + ", " + k.Role, At: k.At, Unit: k.Unit, Zone: zone, Paper: paper}, nil
}

func replySections(k *notice.KeptReply, by *Asked) []Section {
	a := k.Answer
	to := k.To
	if to == "" {
		to = a.Issuer
	}
	secs := []Section{
		{Title: "To whom and from whom", Facts: []Fact{
			{Label: "To", Value: Text(to)},
			{Label: "Sent", Value: Text(k.Sent)},
			{Label: "From", Value: Text(k.Unit), Note: k.Site},
			{Label: "Date of this reply", Value: DateText(inventory.DateOf(k.At, by.Zone))},
			{Label: "Reply number", Value: Integer(int64(k.Number)), Note: "of this unit to this notice"},
		}},
		noticeSection(a),
		{Title: "The answer", Text: []string{receiptWords(k.Receipt, a)}},
	}
	if open := openWords(a); len(open) > 0 {
		secs = append(secs, Section{Title: "What this answer does not say yet", Text: open, Caution: true})
	}
	if k.Receipt != notice.ReceivedNone {
		met := Section{Title: "Treatments, patients and machines by grade, in numbers", Table: gradeTable(a.Counts)}
		met.Text = []string{"Each counts once, under its surest grade. Who they are stays in the unit."}
		secs = append(secs, met)
		secs = append(secs, massSections(a, "")...)
	}
	secs = append(secs, adverseSection(k), toldSection(k))
	if k.Note != "" {
		secs = append(secs, Section{Title: "Further", Text: []string{k.Note}})
	}
	return append(secs, Section{Title: "Signed", Facts: []Fact{
		{Label: "Name", Value: Text(k.Signer)},
		{Label: "Role", Value: Text(k.Role)},
		{Label: "Signature", Value: Blank()},
		{Label: "Date", Value: Blank()},
	}}, by.source(a.AsOf))
}

// receiptWords says the answer in a sentence, with how many lots.
func receiptWords(r notice.Receipt, a *notice.Answer) string {
	here, named := 0, 0
	for i := range a.Lots {
		l := &a.Lots[i]
		if l.Verdict == inventory.NotMeant {
			continue
		}
		named++
		if l.OnRecord {
			here++
		}
	}
	words := r.Words()
	if r == notice.ReceivedSome {
		words += fmt.Sprintf(" They are %d of %d that it means or may mean; by lot they are on the sheet Every piece of the workbook.", here, named)
	}
	return words
}

func adverseSection(k *notice.KeptReply) Section {
	s := Section{Title: "Adverse events"}
	switch k.Adverse {
	case notice.AdverseNone:
		s.Text = []string{"None known."}
	case notice.AdverseSome:
		s.Text = []string{"There are some:", k.AdverseWords}
	default:
		s.Text = []string{"Not recorded: this has not been looked into yet. It does not say that there were none."}
	}
	return s
}

func toldSection(k *notice.KeptReply) Section {
	s := Section{Title: "Who was told"}
	if len(k.Told) == 0 {
		s.Text = []string{"Not recorded."}
		return s
	}
	for _, t := range k.Told {
		s.Facts = append(s.Facts, Fact{Label: t.Who, Value: dateCell(t.On), Note: strings.TrimSpace(t.How)})
	}
	return s
}
