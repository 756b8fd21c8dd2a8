package notice_test

import (
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace/notice"
)

// A notice from its first version to its second closing, and a drill: an entry
// of each kind, which is the book of cmd/lotbook/testdata/rows/notice.db.gz.
func TestEveryKind(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "A1", 9)
	u.receive("DLZ", "AI", 5)
	u.treat("P1", "S1", lot("A1"))
	u.treat("P2", "S1", lot("AI"))
	id := u.write("", "FSN-30", listed("A1"), inventory.ScopeLine{Kind: inventory.ScopeRange, From: "B1", To: "B9"})
	u.ok(u.Write(ctx, by("officer"), notice.Writing{Notice: id, Version: notice.Version{
		Reference: "FSN-30 b", Issuer: "Invented Maker", Received: "2026-03-03", Deadline: "2026-03-09", Alone: true,
		Lines:   []notice.Line{{Product: "DLZ", Scope: inventory.Scope{listed("A1")}}, {Product: gtinUnknown, Scope: inventory.Scope{{Kind: inventory.ScopeAll}}}},
		Actions: []notice.Action{{ID: "stop", Text: "Stop using the lots"}, {ID: "pass", Text: "Pass it on"}},
	}}))
	u.ok(u.Confirm(ctx, by("officer"), notice.Confirming{Notice: id}))
	u.ok(u.Decide(ctx, by("officer"), notice.LotDecided{Notice: id, Product: "DLZ", Lot: "AI", Meant: true, Reason: "the maker said so"}))
	u.ok(u.Assign(ctx, by("officer"), notice.ActionAssigned{Notice: id, Action: "pass", To: "stock", Due: "2026-03-08"}))
	u.ok(u.MarkDone(ctx, by("stock"), notice.ActionDone{Notice: id, Action: "stop"}))
	u.ok(u.Review(ctx, by("nurse"), notice.PatientReviewed{Notice: id, Patient: "P1", Clinician: "Dr Invented", How: "record read"}))
	u.ok(u.HandleMachine(ctx, by("nurse"), notice.MachineHandled{Notice: id, Machine: "M1", What: "heat disinfection"}))
	u.ok(u.Tell(ctx, by("officer"), notice.Told{Notice: id, Who: "all nurses", How: "at the handover"}))
	u.ok(u.CheckEffectiveness(ctx, by("officer"), notice.EffectivenessChecked{Notice: id, Asked: 3, Reached: 2, How: "asked"}))
	u.ok(u.Reply(ctx, by("officer"), notice.Replying{Notice: id, ReplyWords: notice.ReplyWords{
		Sent: "by post", Adverse: notice.AdverseNone, Signer: "Invented Officer", Role: "Quality officer",
	}}))
	u.ok(u.ReleaseHold(ctx, by("officer"), notice.Releasing{Notice: id, Product: "DLZ", Lots: []string{"AI"}, Reason: "tested"}))
	closing := notice.ClosingUp{Notice: id, Name: "Invented Officer", Meaning: "reviewed and closed", Accepted: "the rest is for the next shift"}
	u.ok(u.CloseNotice(ctx, by("officer"), closing))
	u.ok(u.Reopen(ctx, by("officer"), notice.Reopened{Notice: id, Reason: "a pack was found"}))
	d := u.event(u.ok(u.BeginDrill(ctx, by("officer"), notice.Drilling{Product: "DLZ", Lot: "A1"})), 0).(*notice.DrillBegun)
	u.pass(10 * time.Minute)
	u.ok(u.EndDrill(ctx, by("officer"), notice.Drilled{Drill: d.Drill, Shelf: []notice.FoundThere{{Location: "cart-a", Pieces: 8}}}))

	played := map[string]bool{}
	err := u.View(ctx, func(r inventory.Reader) error {
		for seq := uint64(1); seq <= r.Head().Seq; seq++ {
			e, err := r.Entry(seq)
			if err != nil {
				return err
			}
			played[e.Kind] = true
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range append(notice.Events(), func() inventory.Event { return new(inventory.ScopeHeld) }, func() inventory.Event { return new(inventory.ScopeReleased) }) {
		if k := f().Kind(); !played[k] {
			t.Errorf("no entry of %s was made", k)
		}
	}
}
