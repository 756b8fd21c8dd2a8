package notice_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace/notice"
)

// A notice worked off to its closing: what is open is named, what is overdue is
// seen, and closing needs a signature and a word on what is left.
func TestWorkOff(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "A1", 9)
	u.treat("P1", "S1", lot("A1"))
	rec := u.ok(u.Write(ctx, by("officer"), notice.Writing{Version: notice.Version{
		Reference: "FSN-20", Issuer: "Invented Maker", Received: "2026-03-02", Deadline: "2026-03-10",
		Lines:   []notice.Line{{Product: "DLZ", Scope: inventory.Scope{listed("A1")}}},
		Actions: []notice.Action{{ID: "stop", Text: "Stop using the lots", Due: "2026-03-03"}, {ID: "clean", Text: "Disinfect the machines"}},
	}}))
	id := u.event(rec, 0).(*notice.VersionWritten).Notice
	overdue := func() (items []string) {
		list, err := u.Overdue(ctx)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range list {
			items = append(items, d.Item)
		}
		return items
	}
	if got := overdue(); len(got) != 0 {
		t.Errorf("on the first day %v is overdue", got)
	}
	u.pass(48 * time.Hour)
	if got := strings.Join(overdue(), " "); got != "stop" {
		t.Errorf("on the third day %q is overdue", got)
	}
	u.ok(u.Assign(ctx, by("officer"), notice.ActionAssigned{Notice: id, Action: "stop", To: "stock", Due: "2026-03-05"}))
	if got := overdue(); len(got) != 0 {
		t.Errorf("with a later day %v is overdue", got)
	}
	done := u.ok(u.MarkDone(ctx, by("stock"), notice.ActionDone{Notice: id, Action: "stop"}))
	u.pass(8 * 24 * time.Hour)
	if got := strings.Join(overdue(), " "); got != "clean reply" {
		t.Errorf("past the deadline %q is overdue", got)
	}
	// A mistake is struck out, and the action is to be done again.
	u.ok(u.Correct(ctx, by("officer"), done.Entries[0].Seq, "the cart was forgotten"))
	if got := strings.Join(overdue(), " "); got != "stop clean reply" {
		t.Errorf("after the correction %q is overdue", got)
	}
	u.ok(u.MarkDone(ctx, by("stock"), notice.ActionDone{Notice: id, Action: "stop"}))
	u.ok(u.MarkDone(ctx, by("technician"), notice.ActionDone{Notice: id, Action: "clean", DoneBy: "night shift"}))
	u.ok(u.HandleMachine(ctx, by("technician"), notice.MachineHandled{Notice: id, Machine: "M1", What: "heat disinfection"}))
	u.ok(u.Tell(ctx, by("officer"), notice.Told{Notice: id, Who: "all nurses", How: "at the handover"}))
	u.ok(u.CheckEffectiveness(ctx, by("officer"), notice.EffectivenessChecked{Notice: id, Level: "A", Asked: 12, Reached: 12, How: "asked each nurse"}))
	u.ok(u.Confirm(ctx, by("officer"), notice.Confirming{Notice: id}))

	closing := notice.ClosingUp{Notice: id, Name: "Invented Officer", Meaning: "reviewed and closed"}
	_, err := u.CloseNotice(ctx, by("officer"), closing)
	var refusal *inventory.Refusal
	if !errors.As(err, &refusal) || refusal.Code != "not_done" || !strings.Contains(err.Error(), "1 patient") || !strings.Contains(err.Error(), "No reply") {
		t.Fatalf("closed with a patient not reviewed and no reply: %v", err)
	}
	u.ok(u.Review(ctx, by("officer"), notice.PatientReviewed{Notice: id, Patient: "P1", Clinician: "Dr Invented", How: "record read"}))
	closing.Accepted = "the maker's address bounced; see the letter"
	end := u.ok(u.CloseNotice(ctx, by("officer"), closing))
	ev := u.event(end, 0).(*notice.Closed)
	if len(ev.Open) != 1 || ev.Signature.User != "officer" || ev.Signature.Head.Seq != end.Entries[0].Seq-1 {
		t.Errorf("closed: %+v", ev)
	}
	if got := overdue(); len(got) != 0 {
		t.Errorf("%v is overdue on a closed notice", got)
	}
	if _, err := u.Correct(ctx, by("officer"), end.Entries[0].Seq, "x"); err == nil {
		t.Error("a signature was struck out")
	}
	// A further version takes the work up again.
	u.write(id, "FSN-20 update", listed("A1", "A2"))
	list, err := u.List(ctx)
	if err != nil || len(list) != 1 || list[0].Progress.Closed != nil || len(list[0].Dues) == 0 {
		t.Errorf("after a further version: %+v, %v", list, err)
	}
	u.ok(u.CloseNotice(ctx, by("officer"), closing))
	if _, err := u.CloseNotice(ctx, by("officer"), closing); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("closed twice: %v", err)
	}
	u.ok(u.Reopen(ctx, by("officer"), notice.Reopened{Notice: id, Reason: "a pack was found"}))
	if list, _ = u.List(ctx); list[0].Progress.Closed != nil {
		t.Error("reopened, and it is closed")
	}
}

func TestWorkRefusals(t *testing.T) {
	u := newUnit(t)
	id := u.write("", "FSN-21", listed("A1"))
	for name, do := range map[string]func() (inventory.Receipt, error){
		"an action that is none": func() (inventory.Receipt, error) {
			return u.MarkDone(ctx, by("x"), notice.ActionDone{Notice: id, Action: "none"})
		},
		"a patient who is none": func() (inventory.Receipt, error) {
			return u.Review(ctx, by("x"), notice.PatientReviewed{Notice: id, Patient: "P9", Clinician: "Dr Invented", How: "seen"})
		},
		"a review by nobody": func() (inventory.Receipt, error) {
			return u.Review(ctx, by("x"), notice.PatientReviewed{Notice: id, Patient: "P1", How: "seen"})
		},
		"a machine that is none": func() (inventory.Receipt, error) {
			return u.HandleMachine(ctx, by("x"), notice.MachineHandled{Notice: id, Machine: "M9", What: "cleaned"})
		},
		"more reached than asked": func() (inventory.Receipt, error) {
			return u.CheckEffectiveness(ctx, by("x"), notice.EffectivenessChecked{Notice: id, Asked: 1, Reached: 2, How: "asked"})
		},
		"nobody told": func() (inventory.Receipt, error) { return u.Tell(ctx, by("x"), notice.Told{Notice: id, How: "letter"}) },
		"an open one reopened": func() (inventory.Receipt, error) {
			return u.Reopen(ctx, by("x"), notice.Reopened{Notice: id, Reason: "x"})
		},
	} {
		var refusal *inventory.Refusal
		if _, err := do(); !errors.As(err, &refusal) || refusal.Hint == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
}
