package notice_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"lotbook/inventory"
	"lotbook/trace/notice"
)

func words() notice.ReplyWords {
	return notice.ReplyWords{Sent: "by post", Adverse: notice.AdverseNone, Signer: "Quill Invented", Role: "Quality officer"}
}

// A reply keeps the answer that was seen, once for a key, and none other.
func TestReply(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "A1", 3)
	met := u.treat("P1", "S1", lot("A1"))
	id := u.write("", "FSN-1", listed("A1"))
	seen := u.answer(id, 0).Sum()
	call := inventory.Call{Actor: "officer", Key: "k"}
	q := notice.Replying{Notice: id, ReplyWords: words(), Seen: seen}
	u.treat("P2", "S2", lot("A1"))
	if _, err := u.Reply(ctx, call, q); !errors.Is(err, inventory.ErrConflict) {
		t.Errorf("another answer than the one seen was kept: %v", err)
	}
	q.Seen = u.answer(id, 0).Sum()
	u.ok(u.Reply(ctx, call, q))
	u.treat("P3", "S1", lot("A1"))
	if rec := u.ok(u.Reply(ctx, call, q)); !rec.Replayed {
		t.Error("the same key replied twice")
	}
	k, err := u.Replied(ctx, id, 1)
	if err != nil {
		t.Fatal(err)
	}
	if k.Answer.Sum() != q.Seen || len(k.Answer.Treatments) != 2 || k.Answer.Treatments[0].Treatment != met || k.AsOf != k.Answer.AsOf || k.Receipt != notice.ReceivedSome {
		t.Errorf("kept: %+v with %d treatments", k.Reply, len(k.Answer.Treatments))
	}
	if _, err := u.Replied(ctx, id, 2); !errors.Is(err, inventory.ErrNotFound) {
		t.Errorf("a reply that nobody sent: %v", err)
	}
}

// What a reply must say, and must not.
func TestReplyWords(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "A1", 3)
	u.treat("P1", "S1", lot("A1"))
	id := u.write("", "FSN-1", listed("A1"))
	for name, change := range map[string]func(*notice.ReplyWords){
		"signer":                   func(w *notice.ReplyWords) { w.Signer = " " },
		"how it is sent":           func(w *notice.ReplyWords) { w.Sent = "" },
		"adverse events":           func(w *notice.ReplyWords) { w.Adverse = "" },
		"which adverse events":     func(w *notice.ReplyWords) { w.Adverse = notice.AdverseSome },
		"events, and none known":   func(w *notice.ReplyWords) { w.AdverseWords = "a leak" },
		"who was told":             func(w *notice.ReplyWords) { w.Told = []notice.Informed{{How: "by letter"}} },
		"a day that is none":       func(w *notice.ReplyWords) { w.Told = []notice.Informed{{Who: "nurses", On: "soon"}} },
		"a patient's name":         func(w *notice.ReplyWords) { w.Note = "seen with invented p1, twice" },
		"a patient's number":       func(w *notice.ReplyWords) { w.Told = []notice.Informed{{Who: "P1"}} },
		"a number in the site":     func(w *notice.ReplyWords) { w.Site = "ward/P1" },
		"a number at the very end": func(w *notice.ReplyWords) { w.Sent = "by post, about P1" },
	} {
		w := words()
		change(&w)
		if _, err := u.Reply(ctx, by("officer"), notice.Replying{Notice: id, ReplyWords: w}); !errors.Is(err, inventory.ErrInvalid) {
			t.Errorf("%s: %v", name, err)
		}
	}
	// P1 is a patient; P10 and XP1 are something else.
	w := words()
	w.Note = "ports P10 and XP1"
	u.ok(u.Reply(ctx, by("officer"), notice.Replying{Notice: id, ReplyWords: w}))
}

// Who was told is taken from the log where the person says nothing, patients in
// number.
func TestReplyTold(t *testing.T) {
	u := newUnit(t)
	id := u.write("", "FSN-1", listed("A1"))
	for _, who := range []string{"all nurses", "Invented P2 and the family", "the water technician"} {
		u.ok(u.Tell(ctx, by("officer"), notice.Told{Notice: id, Who: who, How: "at the handover"}))
	}
	u.ok(u.Reply(ctx, by("officer"), notice.Replying{Notice: id, ReplyWords: words()}))
	k, err := u.Replied(ctx, id, 0)
	if err != nil {
		t.Fatal(err)
	}
	want := []notice.Informed{{Who: "all nurses", How: "at the handover", On: "2026-03-02"}, {Who: "the water technician", How: "at the handover", On: "2026-03-02"}, {Who: "1 patient"}}
	if !slices.Equal(k.Told, want) {
		t.Errorf("told: %+v", k.Told)
	}
	if k.Receipt != notice.ReceivedNone {
		t.Errorf("nothing of it was ever here, and the reply says %s", k.Receipt)
	}
	var p *notice.Progress
	err = u.View(ctx, func(r inventory.Reader) error {
		s, err := notice.ByID(r, id)
		if err == nil {
			p, err = notice.ProgressOf(r, s)
		}
		return err
	})
	if err != nil || len(p.Replied) != 1 || p.Replied[0].Signer != "Quill Invented" {
		t.Errorf("the log has %+v, %v", p.Replied, err)
	}
}

// To whom pieces went is told by lot, whatever came of them there.
func TestSent(t *testing.T) {
	u := newUnit(t)
	u.receive("DLZ", "A1", 9)
	for _, n := range []int64{2, 3} {
		u.ok(u.Depart(ctx, by("stock"), inventory.Departed{Stock: inventory.Stock{Product: "DLZ", Lot: "A1", Quantity: n}, From: "cart-a", How: inventory.HowLent, Other: "Unit North"}))
	}
	a := u.answer(u.write("", "FSN-1", listed("A1", "A2")), 0)
	if l := a.Lots[0]; len(l.Units) != 1 || l.Units[0].Unit != "Unit North" || l.Units[0].Lent != 5 || a.Mass.TransferredOut != 5 {
		t.Errorf("sent %+v, mass %+v", l.Units, a.Mass)
	}
	if p := a.Products; len(p) != 1 || p[0].DIs[0] != gtinDialyzer || p[0].Printed[0] != "Dialyzer 1.8 m²" || !strings.Contains(p[0].Means[0], "A1, A2") {
		t.Errorf("products %+v", p)
	}
}

// What a later version says nothing of stays as the earlier one had it.
func TestSaidOfTheNotice(t *testing.T) {
	u := newUnit(t)
	write := func(id notice.ID, v notice.Version) notice.ID {
		v.Reference, v.Issuer, v.Received = "FSN-1", "Invented Maker", "2026-03-20"
		v.Lines = []notice.Line{{Product: "DLZ", Scope: inventory.Scope{listed("A1")}}}
		return u.event(u.ok(u.Write(ctx, by("officer"), notice.Writing{Notice: id, Version: v})), 0).(*notice.VersionWritten).Notice
	}
	id := write("", notice.Version{Class: "II", Deadline: "2026-04-03", Subject: "leaks", Actions: []notice.Action{{ID: "stop", Text: "Stop using it"}, {ID: "tell", Text: "Tell others"}}})
	write(id, notice.Version{Class: "I", Actions: []notice.Action{{ID: "stop", Text: "Stop at once", Due: "2026-03-21"}}})
	a := u.answer(id, 0)
	want := []notice.Action{{ID: "stop", Text: "Stop at once", Due: "2026-03-21"}, {ID: "tell", Text: "Tell others", Due: "2026-04-03"}}
	if a.Class != "I" || a.Deadline != "2026-04-03" || a.Subject != "leaks" || !slices.Equal(a.Actions, want) {
		t.Errorf("class %q, deadline %q, subject %q, actions %+v", a.Class, a.Deadline, a.Subject, a.Actions)
	}
	write(id, notice.Version{Alone: true, Actions: []notice.Action{{ID: "back", Text: "Send it back"}}})
	if a := u.answer(id, 0); len(a.Actions) != 1 || a.Actions[0].ID != "back" {
		t.Errorf("a version that stands alone asks for %+v", a.Actions)
	}
	if a := u.answer(id, 1); a.Class != "II" || len(a.Actions) != 2 {
		t.Errorf("the first version has class %q and asks for %+v", a.Class, a.Actions)
	}
}
