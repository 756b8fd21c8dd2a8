package api_test

import (
	"bytes"
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"lotbook/inventory/account"
)

// aText is a notice on lots of dialyzers.
func aText(reference string, scope ...m) m {
	return m{
		"reference": reference, "issuer": "Invented Maker", "class": "II", "subject": "leaks", "dated": "2026-02-27", "received": "2026-03-01", "deadline": "2026-03-20",
		"lines":   []m{{"printed": "Dialyzer 1.8", "product": gtinDialyzer, "scope": scope}},
		"actions": []m{{"id": "stop", "text": "Stop using the lots", "due": "2026-03-02"}},
	}
}

func aReply() m {
	return m{
		"sent": "by post", "site": "Harbour road 1", "adverse_events": "some", "adverse_events_text": "one clotted circuit", "signer": "Quill Invented", "role": "Quality officer",
		"told": []m{{"who": "the physicians", "how": "by letter", "on": "2026-03-01"}}, "note": "one box is kept for you",
	}
}

// walkReplies takes a notice from its text to the reply.
func walkReplies(s *site) {
	s.t.Helper()
	const ok, created = http.StatusOK, http.StatusCreated
	s.receive("DLZ", "D-4712", "2028-03-31", 4, "cart-a")
	first := aText("FSN-100", m{"kind": "lots", "lots": []string{"D-4711"}, "made": m{"from": "2020-01-01"}}, m{"kind": "range", "from": "D-8000", "to": "D-8100"})
	first["another"] = true
	id := s.do(account.Quality, "POST", "/v1/notices", first).want(created).text("notice")
	of := func(what string) string { return "/v1/notices/" + id + what }
	second := aText("FSN-100 update", m{"kind": "lots", "lots": []string{"D-4712"}}, m{"kind": "pattern", "pattern": "E-*", "serials": []string{"77"}, "received": m{"from": "2026-01-01", "to": "2026-03-31"}})
	s.do(account.Quality, "POST", of("/versions"), second).want(created)
	s.do(account.Stock, "GET", "/v1/notices?limit=1", nil).want(ok)
	lots := s.do(account.Stock, "GET", of("/lots?version=2"), nil).want(ok)
	if !strings.Contains(string(lots.body), `"D-4712"`) || strings.Contains(string(s.do(account.Stock, "GET", of("/lots?version=1"), nil).want(ok).body), `"D-4712"`) {
		s.t.Errorf("lots of the second version: %s", lots.body)
	}
	s.do(account.Quality, "POST", of("/decisions"), m{"product": "DLZ", "lot": "D-4711", "meant": true, "reason": "looked at the pack"}).want(created)
	s.do(account.Quality, "POST", of("/confirmations"), m{}).want(created)
	s.do(account.Quality, "POST", of("/releases"), m{"product": "DLZ", "lots": []string{"D-4712"}, "reason": "the maker replaced it"}).want(created)
	s.do(account.Quality, "POST", of("/releases"), m{"reason": "withdrawn"}).want(created)
	a := s.do(account.Nurse, "GET", of("/answer?version=2&limit=1"), nil).want(ok)
	if a.text("receipt") != "received" || !strings.Contains(a.text("caution"), "own instructions come before") {
		s.t.Errorf("the answer: %s", a.body)
	}
	s.do(account.Quality, "GET", of("/answer.xlsx"), nil).want(ok)
	s.do(account.Quality, "GET", of("/difference?from=1&to=2"), nil).want(ok)
	body := aReply()
	body["seen"] = s.do(account.Quality, "GET", of("/answer"), nil).want(ok).text("sum")
	s.do(account.Quality, "POST", of("/replies"), body).want(created)
	s.do(account.Nurse, "GET", of("/replies/1?limit=2"), nil).want(ok)
	s.do(account.Quality, "GET", of("/replies/1/reply.xlsx?paper=Letter"), nil).want(ok)
	s.do(account.Quality, "GET", of("/replies/1/unit.xlsx"), nil).want(ok)
	if l := s.do(account.Quality, "GET", of("/replies/1/letter?paper=Letter"), nil).want(ok); !strings.Contains(string(l.body), "one box is kept for you") || !strings.Contains(l.header.Get("Content-Security-Policy"), "style-src 'sha256-") {
		s.t.Errorf("the letter: %s\n%s", l.header, l.body)
	}
	if g := s.do(account.Stock, "GET", of(""), nil).want(ok); g.text("replies", 0, "signer") != "Quill Invented" || g.text("versions", 1, "reference") != "FSN-100 update" {
		s.t.Errorf("the notice: %s", g.body)
	}
}

// walkRepliesBad asks for what must be refused.
func walkRepliesBad(s *site) {
	s.t.Helper()
	id := s.aNotice("FSN-101", "D-8")
	of := func(what string) string { return "/v1/notices/" + id + what }
	with := func(b m, name string, v any) m { b[name] = v; return b }
	listed := m{"kind": "lots", "lots": []string{"D-8"}}
	s.refuses([]refusal{
		{account.Quality, "GET", "/v1/notices?limit=0", nil, 400, "limit"},
		{account.Quality, "POST", "/v1/notices", aText("FSN-101", listed), 409, "notice_written"},
		{account.Quality, "POST", "/v1/notices", aText("FSN-102", m{"kind": "range", "from": "A1"}), 422, "invalid"},
		{account.Quality, "POST", "/v1/notices", aText("FSN-102", m{"kind": "some"}), 422, "invalid"},
		{account.Quality, "POST", "/v1/notices", with(aText("FSN-102", listed), "received", "1 March"), 422, "invalid"},
		{account.Quality, "GET", "/v1/notices/N9", nil, 404, "unknown_notice"},
		{account.Quality, "POST", "/v1/notices/N9/versions", aText("FSN-103", listed), 404, "unknown_notice"},
		{account.Quality, "POST", of("/versions"), with(aText("FSN-103", listed), "another", true), 400, "unknown_member"},
		{account.Quality, "GET", of("/lots?version=zero"), nil, 400, "wrong_type"},
		{account.Quality, "POST", of("/decisions"), m{"product": "DLZ", "lot": "D-8", "reason": "x"}, 400, "parameter_missing"},
		{account.Quality, "POST", of("/decisions"), m{"product": "DLZ", "lot": "D-8", "meant": true, "reason": ""}, 422, "invalid"},
		{account.Quality, "POST", of("/confirmations"), m{"version": 7}, 422, "invalid"},
		{account.Quality, "POST", of("/releases"), m{"reason": "x"}, 409, "not_held"},
		{account.Quality, "GET", of("/answer?after=%21"), nil, 400, "after"},
		{account.Quality, "GET", "/v1/notices/N9/answer.xlsx", nil, 404, "unknown_notice"},
		{account.Quality, "GET", of("/difference?from=1"), nil, 400, "parameter_missing"},
		{account.Quality, "GET", of("/difference?from=1&to=2"), nil, 422, "invalid"},
		{account.Quality, "POST", of("/replies"), with(aReply(), "signer", ""), 422, "invalid"},
		{account.Quality, "POST", of("/replies"), with(aReply(), "note", "P1 felt unwell; Invented P1 too"), 422, "invalid"},
		{account.Quality, "POST", of("/replies"), with(aReply(), "seen", "another"), 409, "answer_changed"},
		{account.Quality, "GET", of("/replies/1"), nil, 404, "unknown_reply"},
		{account.Quality, "GET", of("/replies/none"), nil, 404, "unknown_reply"},
		{account.Quality, "GET", of("/replies/1/reply.xlsx"), nil, 404, "unknown_reply"},
		{account.Quality, "GET", of("/replies/1/reply.xlsx?paper=A3"), nil, 400, "wrong_type"},
		{account.Quality, "GET", of("/replies/1/unit.xlsx"), nil, 404, "unknown_reply"},
		{account.Quality, "GET", of("/replies/1/letter"), nil, 404, "unknown_reply"},
	})
}

// The whole way: a delivery comes after the scope was confirmed and is stopped;
// the reply's workbook names nobody, and is the same when it is fetched again
// after more was recorded.
func TestReplyFetchedAgain(t *testing.T) {
	s := furnish(t)
	s.receive("DLZ", "D-4711", "2028-03-31", 12, "cart-a")
	treated := s.opened("P1", "S1")
	s.scan(treated, m{"codes": label(gtinDialyzer, "280331", "D-4711")}).want(http.StatusCreated)
	id := s.do(account.Quality, "POST", "/v1/notices", aText("FSN-1", m{"kind": "lots", "lots": []string{"D-4711", "D-4799"}})).want(http.StatusCreated).text("notice")
	of := func(what string) string { return "/v1/notices/" + id + what }
	s.do(account.Quality, "POST", of("/confirmations"), m{}).want(http.StatusCreated)
	s.do(account.Quality, "POST", of("/replies"), aReply()).want(http.StatusCreated)
	if a := s.do(account.Quality, "GET", of("/replies/1"), nil).want(http.StatusOK); a.text("answer", "treatments", 0, "treatment") != treated || a.text("answer", "treatments", 0, "grade") != "confirmed" {
		t.Errorf("kept: %s", a.body)
	}
	maker := s.do(account.Quality, "GET", of("/replies/1/reply.xlsx"), nil).want(http.StatusOK)
	unit := s.do(account.Quality, "GET", of("/replies/1/unit.xlsx"), nil).want(http.StatusOK)
	text := strings.Join(cellsOf(t, maker.body), "\n") + string(s.do(account.Quality, "GET", of("/replies/1/letter"), nil).want(http.StatusOK).body)
	var patients []string
	for i := range 3 {
		a := s.do(account.Quality, "GET", "/v1/patients", nil).want(http.StatusOK)
		patients = append(patients, a.text("patients", i, "id"), a.text("patients", i, "name"))
	}
	for _, p := range append(patients, treated) {
		if p != "" && strings.Contains(text, p) {
			t.Errorf("the issuer would read %q", p)
		}
	}
	if !strings.Contains(text, "one clotted circuit") || !strings.Contains(strings.Join(cellsOf(t, unit.body), "\n"), treated) {
		t.Error("the workbooks lack what they are for")
	}
	s.scan(treated, m{"codes": label(gtinDialyzer, "280331", "D-4711")}).want(http.StatusCreated)
	s.receive("DLZ", "D-4799", "2028-03-31", 3, "cart-a")
	if now := s.do(account.Quality, "GET", of("/answer"), nil).want(http.StatusOK); now.number("mass_balance", "received") != 15 {
		t.Errorf("the answer of today: %s", now.body)
	}
	if again := s.do(account.Quality, "GET", of("/replies/1/reply.xlsx"), nil).want(http.StatusOK); !bytes.Equal(again.body, maker.body) {
		t.Error("the reply's workbook is another one now")
	}
	if again := s.do(account.Quality, "GET", of("/replies/1/unit.xlsx"), nil).want(http.StatusOK); !bytes.Equal(again.body, unit.body) {
		t.Error("the unit's workbook of the reply is another one now")
	}
}

// cellsOf reads every cell of a workbook.
func cellsOf(t *testing.T, body []byte) []string {
	t.Helper()
	f, err := excelize.OpenReader(bytes.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var out []string
	for _, sheet := range f.GetSheetList() {
		rows, err := f.GetRows(sheet)
		if err != nil {
			t.Fatal(err)
		}
		for i, r := range rows {
			for j, c := range r {
				out = append(out, fmt.Sprintf("%s %d,%d: %s", sheet, i+1, j+1, c))
			}
		}
	}
	return out
}
