package v1

import (
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
	"lotbook/trace"
)

type batchPage struct {
	Batches []batch `json:"batches"`
	Next    string  `json:"next,omitempty"`
}

// listBatches answers GET /v1/batches: those that stand, the latest first.
func (a *API) listBatches(c *gin.Context) error {
	q, err := query(c, "tank", "limit", "after")
	if err != nil {
		return err
	}
	limit, err := limitOf(q)
	if err != nil {
		return err
	}
	var at struct {
		Made  time.Time
		Entry uint64
	}
	begun, err := afterOf(q, &at)
	if err != nil {
		return err
	}
	from := rowcode.MaxTime
	if begun {
		from = at.Made.Add(1)
	}
	out := batchPage{Batches: []batch{}}
	more := false
	err = a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		out.Batches, more = out.Batches[:0], false
		return trace.ScanBatches(r, from, func(b *trace.Batch) error {
			if begun && b.Made.Equal(at.Made) && b.Entry >= at.Entry {
				return nil
			}
			if t := q.Get("tank"); t != "" && string(b.Tank) != t {
				return nil
			}
			if more = len(out.Batches) == limit; more {
				return inventory.ErrStop
			}
			out.Batches = append(out.Batches, batchOf(b))
			return nil
		})
	})
	if err != nil {
		return err
	}
	if more {
		l := out.Batches[limit-1]
		at.Made, at.Entry = l.Made, l.Entry
		if out.Next, err = placeOf(at); err != nil {
			return err
		}
	}
	return respond(c, http.StatusOK, out)
}

// getBatch answers GET /v1/batches/:id: what went in, what was read, what it
// fed.
func (a *API) getBatch(c *gin.Context) error {
	if _, err := query(c); err != nil {
		return err
	}
	id, err := param(c, "id")
	if err != nil {
		return err
	}
	var out batchState
	err = a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		b, err := trace.BatchByID(r, trace.BatchID(id))
		if err != nil {
			return err
		}
		in, err := contentsOf(r, b.Lot())
		if err != nil {
			return err
		}
		out = batchState{batch: batchOf(b), Inputs: append([]content{}, in...), Readings: []takenReading{}, Fed: []batchFeed{}}
		readings, err := trace.ReadingsOf(r, b.ID)
		if err != nil {
			return err
		}
		for i := range readings {
			x := &readings[i]
			out.Readings = append(out.Readings, takenReading{readingWire(&x.BatchReading), x.Entry, x.At, x.By})
		}
		fed, err := a.Book.BatchFeeds(r, b)
		if err != nil {
			return err
		}
		for _, f := range fed {
			out.Fed = append(out.Fed, batchFeed{f.Feed.Entry, string(f.Feed.Tank), string(f.Feed.Loop), f.Feed.Stations, f.From, f.Until, f.Surely})
		}
		found, err := a.Book.BatchFindings(r, b, a.Book.Now())
		out.Findings = findingsOf(found)
		return err
	})
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}
