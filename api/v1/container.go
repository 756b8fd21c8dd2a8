package v1

import (
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/inventory"
	"lotbook/inventory/rowcode"
	"lotbook/trace"
)

// container is a piece that was opened for several treatments.
type container struct {
	Container string    `json:"container"`
	Product   string    `json:"product"`
	Name      string    `json:"product_name,omitempty"`
	Lot       string    `json:"lot,omitempty"`
	Serial    string    `json:"serial,omitempty"`
	Expires   string    `json:"expires,omitempty"`
	From      string    `json:"from"`
	Location  string    `json:"location"`
	Opened    time.Time `json:"opened"`
	By        string    `json:"by"`
	Closed    time.Time `json:"closed,omitzero"`
	ClosedHow string    `json:"closed_how,omitempty"`
	Entry     uint64    `json:"entry"`
}

func containerOf(c *trace.Container) container {
	return container{
		string(c.ID), string(c.Product), c.Name, c.Lot, c.Serial, string(c.Expires), string(c.From), string(c.Place), c.Opened, c.By,
		c.Closed, c.How, c.Entry,
	}
}

type containerRequest struct {
	happened
	stockIn
	Container string `json:"container"`
	From      string `json:"from"`
	Location  string `json:"location"`
}

type containerWritten struct {
	written
	Container container `json:"container"`
	Findings  []finding `json:"findings"`
}

// createContainer answers POST /v1/containers.
func (a *API) createContainer(c *gin.Context) error {
	var req containerRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.OpenContainer(c.Request.Context(), call, trace.ContainerOpened{
		Container: trace.ContainerID(req.Container), Stock: req.domain(), From: inventory.LocationID(req.From), Place: inventory.LocationID(req.Location),
	})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*trace.ContainerOpened](evs)
		if err != nil {
			return nil, err
		}
		s := &ev.Stock
		return containerWritten{w, container{
			Container: string(ev.Container), Product: string(s.Product), Name: ev.Name, Lot: s.Lot, Serial: s.Serial, Expires: string(s.Expires),
			From: string(ev.From), Location: string(ev.Place), Opened: w.Happened, By: w.By, Entry: w.Entry,
		}, findingsOf(s.Findings)}, nil
	})
}

type containerEndRequest struct {
	happened
	How  string `json:"how"`
	Note string `json:"note"`
}

type containerEndWritten struct {
	written
	Container string `json:"container"`
	How       string `json:"how"`
	Note      string `json:"note,omitempty"`
}

// createContainerEnd answers POST /v1/containers/:id/closures.
func (a *API) createContainerEnd(c *gin.Context) error {
	var req containerEndRequest
	call, id, err := writeOf(c, &req, &req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.CloseContainer(c.Request.Context(), call, trace.ContainerClosed{Container: trace.ContainerID(id), How: req.How, Note: req.Note})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*trace.ContainerClosed](evs)
		if err != nil {
			return nil, err
		}
		return containerEndWritten{w, string(ev.Container), ev.How, ev.Note}, nil
	})
}

type containerMoveRequest struct {
	happened
	Location string `json:"location"`
	Note     string `json:"note"`
}

type containerMoveWritten struct {
	written
	Container string `json:"container"`
	Location  string `json:"location"`
	Note      string `json:"note,omitempty"`
}

// createContainerMove answers POST /v1/containers/:id/moves.
func (a *API) createContainerMove(c *gin.Context) error {
	var req containerMoveRequest
	call, id, err := writeOf(c, &req, &req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.MoveContainer(c.Request.Context(), call, trace.ContainerMoved{Container: trace.ContainerID(id), Place: inventory.LocationID(req.Location), Note: req.Note})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*trace.ContainerMoved](evs)
		if err != nil {
			return nil, err
		}
		return containerMoveWritten{w, string(ev.Container), string(ev.Place), ev.Note}, nil
	})
}

type containerPage struct {
	Containers []container `json:"containers"`
}

// listContainers answers GET /v1/containers: the latest of a place, the open
// ones or all.
func (a *API) listContainers(c *gin.Context) error {
	q, err := query(c, "location", "open", "limit")
	if err != nil {
		return err
	}
	limit, err := limitOf(q)
	if err != nil {
		return err
	}
	open, err := boolOf(q, "open")
	if err != nil {
		return err
	}
	if q.Get("location") == "" {
		return problem.Bad("parameter_missing", "location", "Name the location where they stand.", "There is no location.")
	}
	out := containerPage{}
	err = a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		out.Containers = []container{}
		l, err := inventory.LocationByID(r, inventory.LocationID(q.Get("location")))
		if err != nil {
			return err
		}
		return trace.ScanContainers(r, l.ID, rowcode.MaxTime, func(x *trace.Container) error {
			if len(out.Containers) == limit {
				return inventory.ErrStop
			}
			if !open || x.Closed.IsZero() {
				out.Containers = append(out.Containers, containerOf(x))
			}
			return nil
		})
	})
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}
