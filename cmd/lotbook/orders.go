package main

import (
	"context"
	"encoding/json"
	"time"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
)

// runOrders prints orders and what became of them, one JSON object a line.
func runOrders(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("orders")
	data := f.String("data", "", "")
	open := f.Bool("open", false, "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if f.NArg() != 0 {
		return exitUsage, wrongUsage("it takes no arguments")
	}
	return eachLine(ctx, e, *data, func(h *house, r inventory.Reader, line func(any) error) error {
		u, err := h.book.Unit(r)
		if err != nil {
			return err
		}
		zone, err := u.Zone()
		if err != nil {
			return err
		}
		today := inventory.DateOf(e.now(), zone)
		return inventory.ScanOrders(r, "", func(head *inventory.OrderHead) error {
			if *open && head.Status != inventory.OrderOpen && head.Status != inventory.OrderPart {
				return nil
			}
			s, err := inventory.OrderByID(r, head.ID)
			if err != nil {
				return err
			}
			return line(orderOut{
				Number: s.Order.ID, Supplier: s.Order.Supplier, Status: s.Status, Late: s.Late(today), Placed: s.Placed, Expected: s.Order.Expected,
				Reason: s.Reason, Lines: s.Progress, NotOrdered: s.Other,
			})
		})
	})
}

// eachLine prints what a book that is only read holds, one JSON object a line.
func eachLine(ctx context.Context, e *env, data string, list func(h *house, r inventory.Reader, line func(any) error) error) (int, error) {
	h, err := openHouse(ctx, e, data, boltstore.Options{ReadOnly: true})
	if err != nil {
		return exitError, err
	}
	defer h.store.Close()
	enc := json.NewEncoder(e.stdout)
	enc.SetEscapeHTML(false)
	return exitOK, h.book.View(ctx, func(r inventory.Reader) error { return list(h, r, enc.Encode) })
}

type orderOut struct {
	Number     inventory.OrderID         `json:"number"`
	Supplier   string                    `json:"supplier"`
	Status     inventory.OrderStatus     `json:"status"`
	Late       bool                      `json:"late"`
	Placed     time.Time                 `json:"placed"`
	Expected   inventory.Date            `json:"expected,omitempty"`
	Reason     string                    `json:"reason,omitempty"`
	Lines      []inventory.OrderProgress `json:"lines"`
	NotOrdered []inventory.OrderLine     `json:"not_ordered,omitempty"`
}
