package web_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"lotbook/inventory"
	"lotbook/trace/notice"
)

// What is overdue on a field notice stands on every page, for everybody, and
// goes when it is done.
func TestOverdueEverywhere(t *testing.T) {
	s := newSite(t)
	b := notice.NewBook(s.Book)
	rec, err := b.Write(ctx, inventory.Call{Actor: "quality"}, notice.Writing{Version: notice.Version{
		Reference: "FSN-77", Issuer: "Invented Maker", Received: "2026-11-20", Deadline: "2026-12-24",
		Lines:   []notice.Line{{Product: gtinDialyzer, Scope: inventory.Scope{{Kind: inventory.ScopeAll}}}},
		Actions: []notice.Action{{ID: "stop", Text: "Stop using the lots", Due: "2026-11-24"}},
	}})
	if err != nil {
		t.Fatal(err)
	}
	const words = "Overdue since 2026-11-24:</b> Stop using the lots, field notice FSN-77."
	for _, p := range []struct{ who, path string }{{"nurse", "/setup"}, {"nurse", "/"}, {"stock", "/reconciliation"}, {"quality", "/lots"}} {
		c := newClient(t, s, p.who)
		c.says(p.path, c.get(p.path), http.StatusOK, words)
	}
	ev, err := s.Registry().Decode(rec.Entries[0])
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.MarkDone(ctx, inventory.Call{Actor: "stock"}, notice.ActionDone{Notice: ev.(*notice.VersionWritten).Notice, Action: "stop"}); err != nil {
		t.Fatal(err)
	}
	s.pass(time.Minute)
	if a := newClient(t, s, "nurse").get("/"); a.status != http.StatusOK || strings.Contains(a.body, "Overdue since") {
		t.Errorf("done, and the page says:\n%s", a.body)
	}
}
