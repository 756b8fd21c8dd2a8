package main

import (
	"context"

	"lotbook/inventory"
	"lotbook/inventory/boltstore"
)

// runCountPlan prints what is to be counted on a day, with the classes that it
// rests on, as JSON.
func runCountPlan(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("count-plan")
	data := f.String("data", "", "")
	date := f.String("date", "", "")
	location := f.String("location", "", "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if f.NArg() != 0 {
		return exitUsage, wrongUsage("it takes --date and --location")
	}
	h, err := openHouse(ctx, e, *data, boltstore.Options{ReadOnly: true})
	if err != nil {
		return exitError, err
	}
	defer h.store.Close()
	day := inventory.Date(*date)
	if day == "" {
		asked, err := h.asked(ctx, e)
		if err != nil {
			return exitError, err
		}
		day = inventory.DateOf(e.now(), asked.Zone)
	}
	p, err := h.book.PlanCounts(ctx, day, inventory.LocationID(*location))
	if err != nil {
		return exitError, err
	}
	return exitOK, jsonTo(e.stdout).Encode(p)
}
