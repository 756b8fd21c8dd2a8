package notice

import (
	"cmp"
	"encoding/json"
	"fmt"
	"slices"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
)

// ixDue holds what is to be done until a day on notices that are open: notice,
// item -> Due. It is read wherever something overdue is to be seen, so it holds
// no more than that.
const ixDue inventory.Index = "notice.due"

// A Due is something that is to be done until a day.
type Due struct {
	Notice    ID     `json:"notice"`
	Reference string `json:"reference"`
	// Item is an action's id, or "reply".
	Item string         `json:"item"`
	What string         `json:"what"`
	To   string         `json:"to,omitempty"`
	Due  inventory.Date `json:"due"`
}

// itemReply is the reply to the issuer.
const itemReply = "reply"

// Dues returns what is to be done on open notices until a day, the earliest
// first: with today, what is due; with yesterday, what is overdue.
func Dues(r inventory.Reader, until inventory.Date) ([]Due, error) {
	var list []Due
	err := r.Scan(ixDue, nil, nil, func(_, doc []byte) error {
		var d Due
		if err := json.Unmarshal(doc, &d); err != nil {
			return err
		}
		if d.Due <= until {
			list = append(list, d)
		}
		return nil
	})
	slices.SortStableFunc(list, func(x, y Due) int { return cmp.Or(cmp.Compare(x.Due, y.Due), cmp.Compare(x.Notice, y.Notice)) })
	return list, err
}

// setDues writes a notice's rows of ixDue anew.
func setDues(w inventory.Writer, id ID) error {
	s, err := read(w, id)
	if err != nil || s == nil || len(s.Versions) == 0 {
		return err
	}
	p, err := ProgressOf(w, s)
	if err != nil {
		return err
	}
	var old [][]byte
	err = w.Scan(ixDue, noticeKey(id), nil, func(key, _ []byte) error {
		old = append(old, slices.Clone(key))
		return nil
	})
	for _, key := range old {
		if err == nil {
			err = w.Delete(ixDue, key)
		}
	}
	if err != nil || p.Closed != nil {
		return err
	}
	for _, d := range s.dues(p) {
		doc, err := json.Marshal(d)
		if err != nil {
			return err
		}
		if err := w.Put(ixDue, rowcode.AppendText(nil, string(id), d.Item), doc); err != nil {
			return err
		}
	}
	return nil
}

// dues are what is to be done until a day. A reply is due anew with each
// version that sets a day for it.
func (s *State) dues(p *Progress) []Due {
	v := s.Latest()
	var list []Due
	for i := range p.Actions {
		if a := &p.Actions[i]; a.Done == nil && !a.Dropped && a.Due != "" {
			list = append(list, Due{s.ID, v.Reference, a.ID, a.Text, a.To, a.Due})
		}
	}
	replied := slices.ContainsFunc(p.Replied, func(d ReplyDone) bool { return d.Entry > v.Entry })
	if v.Deadline != "" && !replied {
		list = append(list, Due{s.ID, v.Reference, itemReply, fmt.Sprintf("Reply to %s", v.Issuer), "", v.Deadline})
	}
	return list
}
