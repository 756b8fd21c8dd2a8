package web

import (
	"errors"

	"lotbook/inventory"
	"lotbook/trace"
)

// answered says of a refused answer who answered before, if that is found.
func (p *Pages) answered(f *setupForm, refusal *inventory.Refusal) (*trouble, error) {
	tr := troubleOf(refusal)
	stopped, err := f.number("stopped")
	if refusal.Code != "not_waiting" || err != nil {
		return tr, nil
	}
	people, err := p.Auth.Names(f.c.Request.Context())
	if err != nil {
		return nil, err
	}
	err = p.Book.View(f.c.Request.Context(), func(r inventory.Reader) error {
		for seq := stopped + 1; seq < stopped+searched; seq++ {
			e, err := r.Entry(seq)
			if errors.Is(err, inventory.ErrNoEntry) {
				return nil
			}
			if err != nil {
				return err
			}
			if e.Kind != (*trace.Used)(nil).Kind() && e.Kind != (*trace.SetAside)(nil).Kind() {
				continue
			}
			ev, err := p.Book.Registry().Decode(e)
			if err != nil {
				return err
			}
			did := ""
			switch ev := ev.(type) {
			case *trace.Used:
				if ev.Answers == stopped {
					did = "used all the same: " + ev.Reason
				}
			case *trace.SetAside:
				if ev.Answers == stopped {
					did = "set aside"
					if ev.Reason == reasonTwice {
						did = "scanned twice, not counted again"
					}
				}
			}
			if did != "" {
				who := e.Actor
				if name := people[who]; name != "" {
					who = name
				}
				*tr = trouble{who + " answered this already: " + did + ".", "Nothing further was recorded."}
				return nil
			}
		}
		return nil
	})
	return tr, err
}
