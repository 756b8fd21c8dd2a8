package web_test

import (
	"net/http"
	"strings"
	"testing"

	"lotbook/inventory"
	"lotbook/trace/notice"
)

// aNotice writes a notice on lots of a product, confirms it and replies.
func aNotice(t *testing.T, b *notice.Book, p inventory.ProductID, lots ...string) notice.ID {
	t.Helper()
	call := inventory.Call{Actor: "quality"}
	rec, err := b.Write(ctx, call, notice.Writing{Version: notice.Version{
		Reference: "FSN-2026-114", Issuer: "Invented Maker", Class: "II", Subject: "leaks at the header", Received: "2026-11-20", Deadline: "2026-12-24",
		Lines: []notice.Line{
			{Printed: "Dialyzer 1.8 m²", Product: p, Scope: inventory.Scope{{Kind: inventory.ScopeLots, Lots: lots}}},
			{Printed: "Another product that nobody could match", Scope: inventory.Scope{{Kind: inventory.ScopeAll}}},
		},
		Actions: []notice.Action{{ID: "stop", Text: "Stop using the lots", Due: "2026-11-24"}, {ID: "tell", Text: "Pass this on to everybody who has them"}},
	}})
	if err != nil {
		t.Fatal(err)
	}
	ev, err := b.Registry().Decode(rec.Entries[0])
	if err != nil {
		t.Fatal(err)
	}
	id := ev.(*notice.VersionWritten).Notice
	if _, err := b.Confirm(ctx, call, notice.Confirming{Notice: id}); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Reply(ctx, call, notice.Replying{Notice: id, ReplyWords: notice.ReplyWords{Sent: "by post", Adverse: notice.AdverseNone, Signer: "Quill Invented", Role: "Quality officer"}}); err != nil {
		t.Fatal(err)
	}
	return id
}

// The list is for everybody and names no patient; a notice's page answers it for
// those who may know patients, with the notice's own instructions first.
func TestNotices(t *testing.T) {
	s, truth := newDemoSite(t)
	b := notice.NewBook(s.Book)
	quality := newClient(t, s, "quality")
	quality.says("/notices", quality.get("/notices"), http.StatusOK, "None is written down")
	id := aNotice(t, b, truth.Notice.Product, truth.Notice.Lots[0], "NEVER-1")
	quality.says("/", quality.get("/"), http.StatusOK, `href="/notices"`)
	quality.says("/notices", quality.get("/notices"), http.StatusOK, "FSN-2026-114", "Invented Maker, class II", "overdue</span> Stop using the lots, by 2026-11-24", "replied", `href="/notices/`+string(id)+`"`)
	a, err := b.Answer(ctx, id, 0)
	if err != nil {
		t.Fatal(err)
	}
	path := "/notices/" + string(id)
	page := quality.get(path)
	quality.says(path, page, http.StatusOK, truth.Notice.Lots[0], "NEVER-1", "not on record here", "held</span>", a.Patients[0].Name, "Machine 1", "Another product that nobody could match: all lots",
		"Quill Invented, Quality officer", path+"/answer.xlsx", path+"/replies/1/letter", "A notice&#39;s own instructions come before")
	if asks, verdict := strings.Index(page.body, "Stop using the lots</th>"), strings.Index(page.body, "class=\"verdict"); asks < 0 || asks > verdict {
		t.Error("what the notice asks for does not come first")
	}
	// A nurse sees the answer without the workbook; others see the list only.
	nurse := newClient(t, s, "nurse")
	if p := nurse.get(path); p.status != http.StatusOK || strings.Contains(p.body, "answer.xlsx") || strings.Contains(p.body, "unit.xlsx") {
		t.Errorf("a nurse: status %d", p.status)
	}
	stock := newClient(t, s, "stock")
	list := stock.get("/notices")
	if list.status != http.StatusOK || strings.Contains(list.body, path) || strings.Contains(list.body, a.Patients[0].Name) {
		t.Errorf("a stock clerk's list: status %d", list.status)
	}
	if p := stock.get(path); p.status != http.StatusForbidden {
		t.Errorf("a stock clerk opened the answer: status %d", p.status)
	}
	if p := quality.get("/notices/N0"); p.status != http.StatusNotFound {
		t.Errorf("a notice that there is none of: status %d", p.status)
	}
}

// Both pages, at the width of a desk and of a tablet.
func TestNoticesInBrowser(t *testing.T) {
	s, truth := newDemoSite(t)
	id := aNotice(t, notice.NewBook(s.Book), truth.Notice.Product, truth.Notice.Lots[0], "NEVER-1")
	br := newBrowser(t, s)
	br.open("/sign-in")
	br.signInHere("quality")
	br.look("home-notice")
	br.open("/notices")
	br.look("notices")
	br.open("/notices/" + string(id))
	br.look("notice")
}
