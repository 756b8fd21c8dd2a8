package web_test

import (
	"net/http"
	"net/url"
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

// A lot in doubt is decided on and the scope confirmed on the page, by the
// officer and nobody else; what is sent twice is recorded once.
func TestNoticeForms(t *testing.T) {
	s := newSite(t)
	b := notice.NewBook(s.Book)
	s.ok(s.Receive(ctx, by("stock"), inventory.Received{Stock: inventory.Stock{Product: "DLZ", Lot: "04D15309", Quantity: 5}, To: "cart-a"}))
	rec, err := b.Write(ctx, inventory.Call{Actor: "quality"}, notice.Writing{Version: notice.Version{
		Reference: "FSN-3", Issuer: "Invented Maker", Received: "2026-11-20",
		Lines: []notice.Line{{Product: gtinDialyzer, Scope: inventory.Scope{{Kind: inventory.ScopeLots, Lots: []string{"04015309"}}}}},
	}})
	if err != nil {
		t.Fatal(err)
	}
	ev, err := b.Registry().Decode(rec.Entries[0])
	if err != nil {
		t.Fatal(err)
	}
	path := "/notices/" + string(ev.(*notice.VersionWritten).Notice)
	c := newClient(t, s, "quality")
	c.says(path, c.get(path), http.StatusOK, "reads almost as 04015309", "It is not meant", "Confirm these lots and hold them")
	decide := url.Values{"action": {"meant"}, "product": {"DLZ"}, "lot": {"04D15309"}, "key": {"k1"}}
	c.says("no reason", c.post(path, decide), http.StatusUnprocessableEntity, "There is no reason")
	decide.Set("reason", "the maker said so by telephone")
	for range 2 {
		if a := c.post(path, decide); a.status != http.StatusSeeOther {
			t.Errorf("decided: status %d\n%s", a.status, a.body)
		}
		c.says("decided", c.get(path), http.StatusOK, "the maker said so by telephone")
	}
	c.says("no such form", c.post(path, url.Values{"action": {"burn"}, "key": {"k2"}}), http.StatusUnprocessableEntity, "Load the page again")
	c.says("no such version", c.post(path, url.Values{"action": {"confirm"}, "version": {"x7"}, "key": {"k3"}}), http.StatusUnprocessableEntity, "version")
	if a := c.post(path, url.Values{"action": {"confirm"}, "version": {"1"}, "key": {"k4"}}); a.status != http.StatusSeeOther {
		t.Errorf("confirmed: status %d\n%s", a.status, a.body)
	}
	page := c.get(path)
	c.says("confirmed", page, http.StatusOK, "held</span>", "scope confirmed, on hold")
	if strings.Contains(page.body, "Confirm these lots") || strings.Contains(page.body, "It is not meant") {
		t.Error("nothing is left to decide, and the page asks")
	}
	state, _, err := b.ByID(ctx, ev.(*notice.VersionWritten).Notice)
	if err != nil || len(state.Decided) != 1 || state.Confirmed == nil || state.Confirmed.By != "quality" {
		t.Errorf("decided %+v, confirmed %+v, %v", state.Decided, state.Confirmed, err)
	}
	nurse := newClient(t, s, "nurse")
	if p := nurse.get(path); p.status != http.StatusOK || strings.Contains(p.body, "It is meant") {
		t.Errorf("a nurse's page: status %d", p.status)
	}
	if p := nurse.post(path, decide); p.status != http.StatusForbidden {
		t.Errorf("a nurse decided: status %d", p.status)
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
	// One that prints the lot in another way is decided on and confirmed.
	rec, err := notice.NewBook(s.Book).Write(ctx, inventory.Call{Actor: "quality"}, notice.Writing{Version: notice.Version{
		Reference: "FSN-2026-115", Issuer: "Invented Maker", Received: "2026-11-20",
		Lines: []notice.Line{{Product: truth.Notice.Product, Scope: inventory.Scope{{Kind: inventory.ScopeLots, Lots: []string{strings.Replace(truth.Notice.Lots[0], "D", "0", 1)}}}}},
	}})
	if err != nil {
		t.Fatal(err)
	}
	ev, err := s.Registry().Decode(rec.Entries[0])
	if err != nil {
		t.Fatal(err)
	}
	br.open("/notices/" + string(ev.(*notice.VersionWritten).Notice))
	br.look("notice-in-doubt")
}
