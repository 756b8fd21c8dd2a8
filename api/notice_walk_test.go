package api_test

import (
	"net/http"
	"strings"

	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/trace/notice"
)

// aNotice writes a field notice on a lot of dialyzers.
func (s *site) aNotice(reference, lot string) string {
	s.t.Helper()
	rec, err := notice.NewBook(s.book).Write(ctx, inventory.Call{Actor: "quality"}, notice.Writing{Version: notice.Version{
		Reference: reference, Issuer: "Invented Maker", Received: "2026-03-01", Deadline: "2026-03-01",
		Lines:   []notice.Line{{Product: gtinDialyzer, Scope: inventory.Scope{{Kind: inventory.ScopeLots, Lots: []string{lot}}}}},
		Actions: []notice.Action{{ID: "stop", Text: "Stop using the lot"}},
	}})
	if err != nil {
		s.t.Fatal(err)
	}
	ev, err := registry().Decode(rec.Entries[0])
	if err != nil {
		s.t.Fatal(err)
	}
	return string(ev.(*notice.VersionWritten).Notice)
}

// walkNotices works a field notice off, and a drill.
func walkNotices(s *site) {
	s.t.Helper()
	const ok, created = http.StatusOK, http.StatusCreated
	walkReplies(s)
	id := s.aNotice("FSN-1", "D-4711")
	of := func(what string) string { return "/v1/notices/" + id + "/" + what }
	if a := s.do(account.Administrator, "GET", "/v1/overdue", nil).want(ok); !strings.Contains(string(a.body), `"item":"reply"`) {
		s.t.Errorf("the reply is overdue, and the answer is %s", a.body)
	}
	s.do(account.Quality, "POST", of("assignments"), m{"action": "stop", "to": "stock", "due": "2026-03-20"}).want(created)
	s.do(account.Stock, "POST", of("actions"), m{"action": "stop", "done_by": "night shift", "note": "both carts"}).want(created)
	s.do(account.Nurse, "POST", of("reviews"), m{"patient": "P1", "clinician": "Dr Invented", "how": "record read", "note": "no sign of harm"}).want(created)
	s.do(account.Nurse, "POST", of("machines"), m{"machine": "M1", "what": "heat disinfection"}).want(created)
	s.do(account.Nurse, "POST", of("tellings"), m{"who": "all nurses", "how": "at the handover"}).want(created)
	s.do(account.Quality, "POST", of("effectiveness-checks"), m{"level": "A", "asked": 3, "reached": 3, "how": "asked each nurse"}).want(created)
	password := passwords[account.Quality]
	closing := s.do(account.Quality, "POST", of("closings"), m{"password": password, "meaning": "reviewed and closed", "accepted": "the reply went by telephone"}).want(created)
	if !strings.Contains(string(closing.body), `"name":"The quality"`) || strings.Contains(string(closing.body), password) {
		s.t.Errorf("the signature: %s", closing.body)
	}
	s.do(account.Nurse, "GET", of("progress"), nil).want(ok)
	s.do(account.Quality, "POST", of("reopenings"), m{"reason": "a pack was found"}).want(created)
	s.do(account.Nurse, "GET", of("progress"), nil).want(ok)

	drill := s.do(account.Quality, "POST", "/v1/drills", m{"note": "the yearly one"}).want(created)
	s.do(account.Quality, "POST", "/v1/drills/"+drill.text("drill", "id")+"/endings", m{"shelf": []m{{"location": "cart-a", "pieces": 3}}, "held_up": []string{"the key was missing"}}).want(created)
	s.do(account.Quality, "POST", "/v1/drills", m{"product": gtinDialyzer, "lot": "D-4711"}).want(created)
	s.do(account.Stock, "GET", "/v1/drills", nil).want(ok)
}

// walkNoticesBad asks for what must be refused.
func walkNoticesBad(s *site) {
	s.t.Helper()
	walkRepliesBad(s)
	id := s.aNotice("FSN-2", "D-9")
	of := func(what string) string { return "/v1/notices/" + id + "/" + what }
	password := passwords[account.Quality]
	s.refuses([]refusal{
		{account.Quality, "POST", of("assignments"), m{"action": "none", "to": "x"}, 404, "unknown_action"},
		{account.Quality, "POST", of("actions"), m{"action": "stop", "not_concerned": true}, 422, "invalid"},
		{account.Nurse, "POST", of("reviews"), m{"patient": "P99", "clinician": "x", "how": "y"}, 404, "unknown_patient"},
		{account.Nurse, "POST", of("machines"), m{"machine": "M99", "what": "x"}, 404, "unknown_machine"},
		{account.Nurse, "POST", of("tellings"), m{"who": "", "how": "x"}, 422, "invalid"},
		{account.Quality, "POST", of("effectiveness-checks"), m{"asked": 1, "reached": 2, "how": "x"}, 422, "invalid"},
		{account.Quality, "POST", of("reopenings"), m{"reason": "x"}, 409, "not_closed"},
		{account.Quality, "POST", of("closings"), m{"password": password, "meaning": "closed"}, 409, "not_done"},
		{account.Quality, "POST", of("closings"), m{"password": "another long password", "meaning": "closed", "accepted": "x"}, 401, "bad_credentials"},
		{account.Quality, "GET", "/v1/notices/N9/progress", nil, 404, "unknown_notice"},
		{account.Quality, "GET", "/v1/overdue?x=1", nil, 400, "unknown_parameter"},
		{account.Quality, "GET", "/v1/drills?x=1", nil, 400, "unknown_parameter"},
		{account.Quality, "POST", "/v1/drills", m{"lot": "X"}, 422, "invalid"},
		{account.Quality, "POST", "/v1/drills/D9/endings", m{}, 404, "unknown_drill"},
	})
}
