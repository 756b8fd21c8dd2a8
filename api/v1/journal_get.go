package v1

import (
	"encoding/json"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

func itoa(n int) string { return strconv.Itoa(n) }

type headAnswer struct {
	// Unit is the id of this unit's journal.
	Unit string `json:"unit"`
	head
}

// getHead answers GET /v1/head: where the journal stands.
func (a *API) getHead(c *gin.Context) error {
	if _, err := query(c); err != nil {
		return err
	}
	out := headAnswer{Unit: a.Book.Store().Unit()}
	err := a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		out.head = headOf(r.Head())
		return nil
	})
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}

// entry is an entry of the journal as it stands there.
type entry struct {
	Seq       uint64          `json:"seq"`
	Recorded  time.Time       `json:"recorded"`
	Happened  time.Time       `json:"happened"`
	By        string          `json:"by"`
	Kind      string          `json:"kind"`
	Body      json.RawMessage `json:"body"`
	Part      int             `json:"part"`
	Parts     int             `json:"parts"`
	Previous  string          `json:"previous_hash"`
	Hash      string          `json:"hash"`
	StruckOut uint64          `json:"struck_out,omitempty"`
}

// getEntry answers GET /v1/entries/:seq.
func (a *API) getEntry(c *gin.Context) error {
	if _, err := query(c); err != nil {
		return err
	}
	s, err := param(c, "seq")
	if err != nil {
		return err
	}
	seq, err := strconv.ParseUint(s, 10, 64)
	if err != nil {
		return inventory.NotFound("entry", s, "Give the entry's number.")
	}
	var out entry
	err = a.Book.View(c.Request.Context(), func(r inventory.Reader) error {
		e, err := r.Entry(seq)
		if err != nil {
			return err
		}
		struck, err := inventory.StruckBy(r, seq)
		if err != nil {
			return err
		}
		out = entry{
			Seq: e.Seq, Recorded: e.Recorded, Happened: e.Happened, By: e.Actor, Kind: e.Kind, Body: append(json.RawMessage{}, e.Body...),
			Part: e.Part, Parts: e.Parts, Previous: e.Prev.String(), Hash: journal.Sum(e.AppendCanonical(nil)).String(), StruckOut: struck,
		}
		return nil
	})
	if err != nil {
		return err
	}
	return respond(c, http.StatusOK, out)
}
