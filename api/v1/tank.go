package v1

import (
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/trace"
)

type tank struct {
	ID   string `json:"id"`
	Name string `json:"name"`
}

type tankRequest struct {
	happened
	tank
}

type tankWritten struct {
	written
	Tank tank `json:"tank"`
}

// createTank answers POST /v1/tanks.
func (a *API) createTank(c *gin.Context) error {
	var req tankRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.SetTank(c.Request.Context(), call, trace.Tank{ID: trace.TankID(req.ID), Name: req.Name})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*trace.TankSet](evs)
		if err != nil {
			return nil, err
		}
		return tankWritten{w, tankOf(ev.Tank)}, nil
	})
}

func tankOf(t trace.Tank) tank { return tank{string(t.ID), t.Name} }

type tankPage struct {
	Tanks []tank `json:"tanks"`
	Next  string `json:"next,omitempty"`
}

// listTanks answers GET /v1/tanks.
func (a *API) listTanks(c *gin.Context) error {
	page, next, err := listOf(a, c, trace.Tanks, tankOf, func(t *tank) string { return t.ID })
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, tankPage{page, next})
}

// feed is the time in which a tank fed stations.
type feed struct {
	Entry    uint64            `json:"entry"`
	Tank     string            `json:"tank"`
	Loop     string            `json:"loop,omitempty"`
	Stations []trace.StationID `json:"stations"`
	From     time.Time         `json:"from"`
	Until    time.Time         `json:"until,omitzero"`
	By       string            `json:"by"`
}

func feedOf(f trace.Feed) feed {
	return feed{f.Entry, string(f.Tank), string(f.Loop), f.Stations, f.From, f.Until, f.By}
}

// held is a batch that a tank holds, or may still hold.
type heldBatch struct {
	Batch   string    `json:"batch"`
	Product string    `json:"product"`
	Since   time.Time `json:"since"`
	// Surely: by the book it is in it. Otherwise nobody said whether the tank
	// was empty when a later one was poured in.
	Surely bool `json:"surely"`
}

type tankState struct {
	tank
	Holds []heldBatch `json:"holds"`
	Feeds []feed      `json:"feeds"`
}

// getTank answers GET /v1/tanks/:id: what it holds now, and its feeds.
func (a *API) getTank(c *gin.Context) error {
	if _, err := query(c); err != nil {
		return err
	}
	id, err := param(c, "id")
	if err != nil {
		return err
	}
	var out tankState
	err = a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		t, err := trace.TankByID(r, trace.TankID(id))
		if err != nil {
			return err
		}
		out = tankState{tank: tankOf(*t), Holds: []heldBatch{}, Feeds: []feed{}}
		holds, err := a.Book.TankHolds(r, t.ID, a.Book.Now())
		if err != nil {
			return err
		}
		for _, h := range holds {
			out.Holds = append(out.Holds, heldBatch{string(h.Batch.ID), string(h.Batch.Product), h.Since, h.Surely})
		}
		feeds, err := trace.FeedsOf(r, t.ID)
		for _, f := range feeds {
			out.Feeds = append(out.Feeds, feedOf(f))
		}
		return err
	})
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}

type feedRequest struct {
	happened
	Loop     string            `json:"loop"`
	Stations []trace.StationID `json:"stations"`
	Until    *time.Time        `json:"until"`
}

type feedWritten struct {
	written
	Feed     feed      `json:"feed"`
	Findings []finding `json:"findings"`
}

// createFeed answers POST /v1/tanks/:id/feeds.
func (a *API) createFeed(c *gin.Context) error {
	var req feedRequest
	call, id, err := writeOf(c, &req, &req.At)
	if err != nil {
		return err
	}
	f := trace.TankFed{Tank: trace.TankID(id), Loop: trace.LoopID(req.Loop), Stations: req.Stations}
	if f.Until, err = timeOf(req.Until, "until"); err != nil {
		return err
	}
	rec, err := a.Book.Feed(c.Request.Context(), call, f)
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*trace.TankFed](evs)
		if err != nil {
			return nil, err
		}
		return feedWritten{w, feed{w.Entry, string(ev.Tank), string(ev.Loop), ev.Stations, w.Happened, ev.Until, w.By}, findingsOf(ev.Findings)}, nil
	})
}

type feedEndRequest struct {
	happened
	Feed uint64 `json:"feed"`
}

type feedEndWritten struct {
	written
	Tank string `json:"tank"`
	Feed uint64 `json:"feed"`
}

// createFeedEnd answers POST /v1/tanks/:id/feed-ends.
func (a *API) createFeedEnd(c *gin.Context) error {
	var req feedEndRequest
	call, id, err := writeOf(c, &req, &req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.EndFeed(c.Request.Context(), call, trace.TankID(id), req.Feed)
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*trace.FeedEnded](evs)
		if err != nil {
			return nil, err
		}
		return feedEndWritten{w, string(ev.Tank), ev.Feed}, nil
	})
}

// noteRequest is a write that says nothing but when, and a note.
type noteRequest struct {
	happened
	Note string `json:"note"`
}

type emptyingWritten struct {
	written
	Tank string `json:"tank"`
	Note string `json:"note,omitempty"`
}

// createEmptying answers POST /v1/tanks/:id/emptyings.
func (a *API) createEmptying(c *gin.Context) error {
	var req noteRequest
	call, id, err := writeOf(c, &req, &req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.EmptyTank(c.Request.Context(), call, trace.TankEmptied{Tank: trace.TankID(id), Note: req.Note})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*trace.TankEmptied](evs)
		if err != nil {
			return nil, err
		}
		return emptyingWritten{w, string(ev.Tank), ev.Note}, nil
	})
}

type loop struct {
	ID       string            `json:"id"`
	Name     string            `json:"name"`
	Stations []trace.StationID `json:"stations"`
}

func loopOf(l trace.Loop) loop { return loop{string(l.ID), l.Name, l.Stations} }

type loopRequest struct {
	happened
	loop
}

type loopWritten struct {
	written
	Loop loop `json:"loop"`
}

// createLoop answers POST /v1/loops.
func (a *API) createLoop(c *gin.Context) error {
	var req loopRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.SetLoop(c.Request.Context(), call, trace.Loop{ID: trace.LoopID(req.ID), Name: req.Name, Stations: req.Stations})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*trace.LoopSet](evs)
		if err != nil {
			return nil, err
		}
		return loopWritten{w, loopOf(ev.Loop)}, nil
	})
}

type loopPage struct {
	Loops []loop `json:"loops"`
	Next  string `json:"next,omitempty"`
}

// listLoops answers GET /v1/loops.
func (a *API) listLoops(c *gin.Context) error {
	page, next, err := listOf(a, c, trace.Loops, loopOf, func(l *loop) string { return l.ID })
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, loopPage{page, next})
}
