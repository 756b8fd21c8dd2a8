package main

import (
	"context"

	"lotbook/inventory"
	"lotbook/trace"
	"lotbook/trace/intake"
)

// rowsTogether is how many rows are recorded together, each with its own
// entries: what is lost of an import that is cut off is done in a moment.
const rowsTogether = 500

// imports are the lists that can be imported.
var imports = map[string]func(context.Context, *importing) error{
	"products": (&listImport[inventory.Product]{
		list: &intake.Products, size: rowsTogether,
		survey: func(im *importing, p *inventory.Product) { im.products.Add(p) },
		write: func(ctx context.Context, im *importing, call inventory.Call, items []inventory.Product) (inventory.Receipt, error) {
			return im.book.ListProducts(ctx, call, im.products, items...)
		},
	}).take,
	"patients": (&listImport[trace.Enrolment]{
		list: &intake.Patients, size: rowsTogether,
		write: func(ctx context.Context, im *importing, call inventory.Call, items []trace.Enrolment) (inventory.Receipt, error) {
			return im.book.Enrol(ctx, call, items...)
		},
	}).take,
	"prescriptions": (&listImport[trace.PrescriptionSet]{
		list: &intake.Prescriptions, size: rowsTogether,
		write: func(ctx context.Context, im *importing, call inventory.Call, items []trace.PrescriptionSet) (inventory.Receipt, error) {
			return im.book.SetPrescription(ctx, call, items...)
		},
	}).take,
	"schedule": (&listImport[trace.Slot]{
		list: &intake.Schedule, size: rowsTogether,
		write: func(ctx context.Context, im *importing, call inventory.Call, items []trace.Slot) (inventory.Receipt, error) {
			return im.book.Schedule(ctx, call, items...)
		},
	}).take,
	"receipts": (&listImport[inventory.ArrivalRow]{
		list: &intake.Receipts, size: rowsTogether,
		write: func(ctx context.Context, im *importing, call inventory.Call, items []inventory.ArrivalRow) (inventory.Receipt, error) {
			return im.book.ReceiveList(ctx, call, inventory.ArrivalRules{Again: im.again, After: im.after}, items...)
		},
	}).take,
	"ordering": (&listImport[inventory.ProductOrdering]{
		list: &intake.Ordering, size: rowsTogether,
		write: func(ctx context.Context, im *importing, call inventory.Call, items []inventory.ProductOrdering) (inventory.Receipt, error) {
			return im.book.SetOrdering(ctx, call, inventory.OrderingChange{Products: items})
		},
	}).take,
	"counts": (&listImport[intake.CountRow]{
		list: &intake.Counts, size: 1,
		together: func(a, b *intake.CountRow) bool { return a.CountHead == b.CountHead },
		write:    importCount,
	}).take,
}

// importCount records the rows of one count.
func importCount(ctx context.Context, im *importing, call inventory.Call, rows []intake.CountRow) (inventory.Receipt, error) {
	h := rows[0].CountHead
	c := inventory.Counted{Location: h.Location, Complete: h.Complete, Cause: h.Cause}
	if h.Shift.Number != 0 {
		c.Shift = &h.Shift
	}
	for _, r := range rows {
		if r.Line.Product != "" {
			c.Lines = append(c.Lines, r.Line)
		}
	}
	call.Happened = h.At
	return im.book.Count(ctx, call, c)
}
