package v1

import (
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
	"lotbook/inventory"
	"lotbook/trace"
)

// batchRequest is a batch and what went into it.
type batchRequest struct {
	happened
	Batch      string         `json:"batch"`
	Product    string         `json:"product"`
	Tank       string         `json:"tank"`
	PouredInto string         `json:"poured_into"`
	Volume     int64          `json:"volume_ml"`
	MixedBy    string         `json:"mixed_by"`
	CheckedBy  string         `json:"checked_by"`
	UseBy      *time.Time     `json:"use_by"`
	Note       string         `json:"note"`
	From       string         `json:"from"`
	Inputs     []inputLine    `json:"inputs"`
	Readings   []batchReading `json:"readings"`
}

type inputLine struct {
	stockIn
	From string `json:"from"`
}

func (l *inputLine) domain(from string) trace.MixInput {
	if l.From != "" {
		from = l.From
	}
	return trace.MixInput{Stock: l.stockIn.domain(), From: inventory.LocationID(from)}
}

type batchWritten struct {
	written
	Batch    batch          `json:"batch"`
	Inputs   []stockLine    `json:"inputs"`
	Readings []batchReading `json:"readings"`
	Findings []finding      `json:"findings"`
}

// timeOf returns a time that a member gives, zero if it is left out.
func timeOf(t *time.Time, field string) (time.Time, error) {
	if t == nil {
		return time.Time{}, nil
	}
	at := t.UTC()
	if y := at.Year(); y < 1970 || y > 2200 {
		return at, problem.Bad("wrong_type", field, "Give the time with its time zone.", "The year %d can't be meant.", y)
	}
	return at, nil
}

// createBatch answers POST /v1/batches.
func (a *API) createBatch(c *gin.Context) error {
	var req batchRequest
	if err := decode(c, &req); err != nil {
		return err
	}
	call, err := callOf(c, req.At)
	if err != nil {
		return err
	}
	if err := checkLines(len(req.Inputs), "inputs"); err != nil {
		return err
	}
	if len(req.Readings) > maxLines {
		return checkLines(len(req.Readings), "readings")
	}
	m := trace.Mixing{BatchMade: trace.BatchMade{
		Batch: trace.BatchID(req.Batch), Product: inventory.ProductID(req.Product), Tank: trace.TankID(req.Tank), Poured: trace.Poured(req.PouredInto),
		Volume: req.Volume, MixedBy: req.MixedBy, CheckedBy: req.CheckedBy, Note: req.Note,
	}}
	if m.UseBy, err = timeOf(req.UseBy, "use_by"); err != nil {
		return err
	}
	for i := range req.Inputs {
		m.Inputs = append(m.Inputs, req.Inputs[i].domain(req.From))
	}
	for i := range req.Readings {
		m.Readings = append(m.Readings, req.Readings[i].domain(""))
	}
	rec, err := a.Book.Mix(c.Request.Context(), call, m)
	return a.created(c, rec, err, batchAnswer)
}

// batchAnswer makes the answer from the entries of a batch.
func batchAnswer(evs []inventory.Event, w written) (any, error) {
	out := batchWritten{written: w, Inputs: []stockLine{}, Readings: []batchReading{}}
	for i, ev := range evs {
		switch v := ev.(type) {
		case *trace.BatchMade:
			out.Batch = batchOf(&trace.Batch{
				ID: v.Batch, Product: v.Product, Tank: v.Tank, Poured: v.Poured, Volume: v.Volume, MixedBy: v.MixedBy, CheckedBy: v.CheckedBy,
				Note: v.Note, Made: w.Happened, UseBy: v.UseBy, Entry: w.Entries[i], By: w.By,
			})
			out.Findings = findingsOf(v.Findings)
		case *trace.BatchInput:
			out.Inputs = append(out.Inputs, lineOf(w.Entries[i], &v.Stock, v.From, ""))
		case *trace.BatchReading:
			out.Readings = append(out.Readings, readingWire(v))
		default:
			return nil, errOtherEntry
		}
	}
	return out, nil
}

type inputRequest struct {
	happened
	inputLine
}

type inputWritten struct {
	written
	Batch string    `json:"batch"`
	Input stockLine `json:"input"`
}

// createInput answers POST /v1/batches/:id/inputs.
func (a *API) createInput(c *gin.Context) error {
	var req inputRequest
	call, id, err := writeOf(c, &req, &req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.AddInput(c.Request.Context(), call, trace.BatchID(id), req.inputLine.domain(""))
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*trace.BatchInput](evs)
		if err != nil {
			return nil, err
		}
		return inputWritten{w, string(ev.Batch), lineOf(w.Entry, &ev.Stock, ev.From, "")}, nil
	})
}

type readingRequest struct {
	happened
	batchReading
}

type readingWritten struct {
	written
	Batch   string       `json:"batch"`
	Reading batchReading `json:"reading"`
}

// createReading answers POST /v1/batches/:id/readings.
func (a *API) createReading(c *gin.Context) error {
	var req readingRequest
	call, id, err := writeOf(c, &req, &req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.ReadBatch(c.Request.Context(), call, req.domain(id))
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*trace.BatchReading](evs)
		if err != nil {
			return nil, err
		}
		return readingWritten{w, string(ev.Batch), readingWire(ev)}, nil
	})
}

type endingWritten struct {
	written
	Batch string `json:"batch"`
	Note  string `json:"note,omitempty"`
}

// createEnding answers POST /v1/batches/:id/endings.
func (a *API) createEnding(c *gin.Context) error {
	var req noteRequest
	call, id, err := writeOf(c, &req, &req.At)
	if err != nil {
		return err
	}
	rec, err := a.Book.EndBatch(c.Request.Context(), call, trace.BatchEnded{Batch: trace.BatchID(id), Note: req.Note})
	return a.created(c, rec, err, func(evs []inventory.Event, w written) (any, error) {
		ev, err := last[*trace.BatchEnded](evs)
		if err != nil {
			return nil, err
		}
		return endingWritten{w, string(ev.Batch), ev.Note}, nil
	})
}
