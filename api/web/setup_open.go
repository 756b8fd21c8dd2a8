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
		Another: c.PostForm("another") != "",
	})
	var refusal *inventory.Refusal
	if errors.As(err, &refusal) && refusal.Code == "already_open" {
		return p.alreadyOpen(c)
	}
	if errors.As(err, &refusal) {
		return p.showSetupList(c, http.StatusUnprocessableEntity, &setupListPage{Problem: troubleOf(refusal)})
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

// An openedAlready is a treatment that the patient has open, in the place of the
// one that was to be opened.
type openedAlready struct {
	URL, Patient, Number, Station, Since, By string
	// AskedStation and AskedMachine are what another one was asked for with.
	AskedStation, AskedMachine string
}

// alreadyOpen says where the patient is treated at this moment.
func (p *Pages) alreadyOpen(c *gin.Context) error {
	people, err := p.Auth.Names(c.Request.Context())
	if err != nil {
		return err
	}
	o := &openedAlready{Number: c.PostForm("patient"), AskedStation: c.PostForm("station"), AskedMachine: c.PostForm("machine")}
	err = p.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		k, err := p.calendar(r)
		if err != nil {
			return err
		}
		n, err := p.namesOf(r)
		if err != nil {
			return err
		}
		if o.Patient, err = n.patient(trace.PatientID(o.Number)); err != nil {
			return err
		}
		return trace.ScanOpen(r, func(t *trace.Treatment) error {
			if t.Patient == trace.PatientID(o.Number) { // the last one that began counts
				o.URL, o.Station, o.Since, o.By = setupURL(t.ID), n.station(t.Station), k.near(t.Start, p.Book.Now()), t.By
				if name := people[t.By]; name != "" {
					o.By = name
				}
			}
			return nil
		})
	})
	if err != nil {
		return err
	}
	return p.showSetupList(c, http.StatusConflict, &setupListPage{Already: o})
}
