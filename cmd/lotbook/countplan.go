package main

import (
	"context"

	"lotbook/inventory"
	"lotbook/reports"
)

// runCountPlan prints what is to be counted on a day, with the classes that it
// rests on, as JSON, or writes the workbook.
func runCountPlan(ctx context.Context, e *env, args []string) (int, error) {
	f := flags("count-plan")
	data := f.String("data", "", "")
	date := f.String("date", "", "")
	location := f.String("location", "", "")
	file := f.String("xlsx", "", "")
	if err := parse(f, args); err != nil {
		return exitUsage, err
	}
	if f.NArg() != 0 {
		return exitUsage, wrongUsage("it takes --date, --location and --xlsx")
	}
	var names reports.Names
	plan := func(h *house) (*inventory.CountPlanning, error) {
		day := inventory.Date(*date)
		if day == "" {
			asked, err := h.asked(ctx, e)
			if err != nil {
				return nil, err
			}
			day = inventory.DateOf(e.now(), asked.Zone)
		}
		err := h.book.View(ctx, func(r inventory.Reader) (err error) {
			names, err = h.names(r)
			return err
		})
		if err != nil {
			return nil, err
		}
		return h.book.PlanCounts(ctx, day, inventory.LocationID(*location))
	}
	return answer(ctx, e, *data, *file, plan, func(p *inventory.CountPlanning, by reports.Asked) *reports.Workbook {
		return reports.CountPlan(p, names, by)
	})
}
