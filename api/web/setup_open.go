package web

import (
	"errors"
	"net/http"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/trace"
)

// setupOpen opens a treatment and goes to its page.
func (p *Pages) setupOpen(c *gin.Context) error {
	id, err := identity(c)
	if err != nil {
		return err
	}
	rec, err := p.Book.Open(c.Request.Context(), id.Call(c.PostForm("key")), trace.Opening{
		Patient: trace.PatientID(c.PostForm("patient")),
		Station: trace.StationID(c.PostForm("station")),
		Machine: trace.MachineID(c.PostForm("machine")),
	})
	var refusal *inventory.Refusal
	if errors.As(err, &refusal) {
		return p.showSetupList(c, http.StatusUnprocessableEntity, troubleOf(refusal))
	}
	if err != nil {
		return err
	}
	ev, err := p.Book.Registry().Decode(rec.Entries[len(rec.Entries)-1])
	if err != nil {
		return err
	}
	opened, ok := ev.(*trace.Opened)
	if !ok {
		return errors.New("the receipt of an opening holds a " + ev.Kind())
	}
	see(c, setupURL(opened.Treatment))
	return nil
}

func troubleOf(r *inventory.Refusal) *trouble { return &trouble{sentence(r.Message), r.Hint} }
