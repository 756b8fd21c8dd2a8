package main

import (
	"context"
	"flag"

	"lotbook/inventory"
	"lotbook/trace/notice"
)

// noticeOut is a notice as it is printed.
type noticeOut struct {
	*notice.State
	Progress *notice.Progress `json:"progress"`
}

func setNoticeShow(*flag.FlagSet) func(context.Context, *noticeRun) (int, error) {
	return func(ctx context.Context, r *noticeRun) (int, error) {
		state, progress, err := r.book.ByID(ctx, r.id)
		if err != nil {
			return exitError, err
		}
		return r.print(noticeOut{state, progress})
	}
}

func setNoticeLots(f *flag.FlagSet) func(context.Context, *noticeRun) (int, error) {
	version := f.Int("version", 0, "")
	return func(ctx context.Context, r *noticeRun) (int, error) {
		lots, err := r.book.Lots(ctx, r.id, *version)
		if err != nil {
			return exitError, err
		}
		out := struct {
			Notice    notice.ID         `json:"notice"`
			Undecided int               `json:"undecided"`
			Lots      []notice.LotMatch `json:"lots"`
		}{r.id, 0, lots}
		for i := range lots {
			if lots[i].Undecided() {
				out.Undecided++
			}
		}
		return r.print(out)
	}
}

func setNoticeDecide(f *flag.FlagSet) func(context.Context, *noticeRun) (int, error) {
	product := f.String("product", "", "")
	lot := f.String("lot", "", "")
	meant := f.String("meant", "", "")
	reason := f.String("reason", "", "")
	return func(ctx context.Context, r *noticeRun) (int, error) {
		if *meant != "yes" && *meant != "no" {
			return exitUsage, wrongUsage("--meant is yes or no")
		}
		return r.wrote(r.book.Decide(ctx, r.call, notice.LotDecided{
			Notice: r.id, Product: inventory.ProductID(*product), Lot: *lot, Meant: *meant == "yes", Reason: *reason,
		}))
	}
}

func setNoticeConfirm(f *flag.FlagSet) func(context.Context, *noticeRun) (int, error) {
	version := f.Int("version", 0, "")
	return func(ctx context.Context, r *noticeRun) (int, error) {
		return r.wrote(r.book.Confirm(ctx, r.call, notice.Confirming{Notice: r.id, Version: *version}))
	}
}

func setNoticeRelease(f *flag.FlagSet) func(context.Context, *noticeRun) (int, error) {
	product := f.String("product", "", "")
	reason := f.String("reason", "", "")
	var lots []string
	f.Func("lot", "", func(s string) error { lots = append(lots, s); return nil })
	return func(ctx context.Context, r *noticeRun) (int, error) {
		return r.wrote(r.book.ReleaseHold(ctx, r.call, notice.Releasing{Notice: r.id, Product: inventory.ProductID(*product), Lots: lots, Reason: *reason}))
	}
}
