package main

import (
	"context"

	"lotbook/inventory"
	"lotbook/trace/notice"
)

// runNotices prints the field notices, the newest first, one JSON object a line.
func runNotices(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("notices")
	data := f.String("data", "", "")
	open := f.Bool("open", false, "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if f.NArg() != 0 {
		return exitUsage, wrongUsage("it takes no arguments")
	}
	return eachLine(ctx, e, *data, func(h *house, r inventory.Reader, line func(any) error) error {
		list, err := notice.NewBook(h.book).Standings(r)
		if err != nil {
			return err
		}
		for i := range list {
			s := &list[i]
			if *open && s.Progress.Closed != nil {
				continue
			}
			v := s.Latest()
			subject, class, deadline := s.Said(0)
			err := line(noticeListed{s.ID, v.Reference, v.Issuer, subject, class, v.Received, deadline, len(s.Versions), s.Stage(), len(s.Progress.Replied), s.Overdue, s.Dues})
			if err != nil {
				return err
			}
		}
		return nil
	})
}

// noticeListed is a notice on the list.
type noticeListed struct {
	Notice    notice.ID      `json:"notice"`
	Reference string         `json:"reference"`
	Issuer    string         `json:"issuer"`
	Subject   string         `json:"subject,omitempty"`
	Class     string         `json:"class,omitempty"`
	Received  inventory.Date `json:"received"`
	Deadline  inventory.Date `json:"deadline,omitempty"`
	Versions  int            `json:"versions"`
	Stage     notice.Stage   `json:"stage"`
	Replies   int            `json:"replies"`
	// Overdue is how much of Due should have been done before today.
	Overdue int          `json:"overdue"`
	Due     []notice.Due `json:"due"`
}
