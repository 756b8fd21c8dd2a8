package api_test

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"lotbook/inventory/account"
)

// Each kind of write moves pieces as the mass balance of a lot has it:
// received + transferred in = used + wasted + on hand + held + returned +
// destroyed + transferred out + unaccounted.
func TestEachStockWriteHasItsPlaceInTheMassBalance(t *testing.T) {
	s := furnish(t)
	line := func(n int, more m) m {
		b := m{"product": "SAL", "lot": "S-1", "quantity": n}
		for k, v := range more {
			b[k] = v
		}
		return b
	}
	post := func(role account.Role, path string, body m) *answer {
		t.Helper()
		return s.do(role, "POST", "/v1/"+path, body).want(http.StatusCreated)
	}
	post(account.Stock, "receipts", m{"to": "room", "supplier": "Invented Supplier", "order": "4", "lines": []m{{"product": "SAL", "lot": "S-1", "expires": "2028-03-31", "quantity": 100}}})
	post(account.Stock, "transfers", line(20, m{"direction": "in", "location": "room", "unit": "Unit East"}))
	post(account.Stock, "transfers", line(3, m{"direction": "out", "location": "room", "unit": "Unit East"}))
	post(account.Stock, "returns", line(5, m{"from": "room", "supplier": "Invented Supplier"}))
	post(account.Quality, "destructions", line(7, m{"from": "room", "witness": "stock"}))
	post(account.Nurse, "wastes", line(11, m{"from": "room", "cause": "dropped"}))
	post(account.Nurse, "uses", line(13, m{"from": "room", "machine": "M1", "purpose": "rinse"}))
	post(account.Stock, "moves", m{"lines": []m{line(17, m{"from": "room", "to": "quarantine"})}})
	wrong := post(account.Nurse, "wastes", line(19, m{"from": "room", "cause": "typed wrongly"})).number("entry")
	post(account.Nurse, "corrections", m{"entry": wrong, "reason": "typed wrongly"})
	s.do(account.Nurse, "POST", "/v1/corrections", m{"entry": wrong, "reason": "again"}).problem(http.StatusConflict, "struck_out")
	// 100 + 20 − 3 − 5 − 7 − 11 − 13 − 17 = 64 are left by the book; a count
	// of the room finds 62.
	c := post(account.Stock, "counts", m{"location": "room", "complete": true, "cause": "a box is gone", "lines": []m{{"product": "SAL", "lot": "S-1", "counted": 62}}})
	book := s.do(account.Quality, "GET", fmt.Sprintf("/v1/entries/%d", c.number("entry")), nil).want(http.StatusOK)
	if book.number("body", "lines", 0, "book") != 64 || c.at("lines", 0, "recount") != true || c.at("complete") != true || strings.Contains(string(c.body), "64") {
		t.Errorf("count: %s", c.body)
	}
	a := s.do(account.Quality, "GET", "/v1/exposures?product=SAL&lot=S-1", nil).want(http.StatusOK)
	want := m{
		"received": 100.0, "transferred_in": 20.0, "used": 13.0, "wasted": 11.0, "on_hand": 62.0, "held": 17.0,
		"returned": 5.0, "destroyed": 7.0, "transferred_out": 3.0, "unaccounted": 2.0,
	}
	for k, v := range want {
		if got := a.at("mass_balance", k); got != v {
			t.Errorf("%s is %v, want %v", k, got, v)
		}
	}
	if a.number("used_outside_treatments") != 13 || a.text("count_differences", 0, "cause") != "a box is gone" {
		t.Errorf("answer: %s", a.body)
	}
	e := s.do(account.Quality, "GET", fmt.Sprintf("/v1/entries/%d", wrong), nil).want(http.StatusOK)
	if e.number("struck_out") != wrong+1 || e.text("by") != "nurse" || e.text("body", "cause") != "typed wrongly" {
		t.Errorf("entry: %s", e.body)
	}
}

// What a complete count does not name is found 0.
func TestCompleteCounts(t *testing.T) {
	s := furnish(t)
	s.receive("SAL", "S-1", "2028-03-31", 5, "room")
	s.receive("DLZ", "D-1", "2028-03-31", 3, "room")
	body := m{"location": "room", "lines": []m{{"product": "SAL", "lot": "S-1", "counted": 5}}}
	if a := s.do(account.Stock, "POST", "/v1/counts", body).want(http.StatusCreated); len(a.list("lines")) != 1 || a.at("complete") != false {
		t.Errorf("count of a part: %s", a.body)
	}
	body["complete"] = true
	a := s.do(account.Stock, "POST", "/v1/counts", body).want(http.StatusCreated)
	if len(a.list("lines")) != 2 || a.text("lines", 1, "product") != "DLZ" || a.at("lines", 1, "unnamed") != true || a.at("lines", 1, "recount") != true || a.at("lines", 0, "recount") != false {
		t.Errorf("count of the whole: %s", a.body)
	}
}

// A count that is written down late is compared with what the book had when it
// was counted, as the description says.
func TestCountsThatComeLate(t *testing.T) {
	s := furnish(t)
	s.receive("SAL", "S-1", "2028-03-31", 5, "room")
	s.pass(3600e9)
	counted := s.clock()
	s.pass(3600e9)
	s.do(account.Stock, "POST", "/v1/moves", m{"from": "room", "to": "cart-a", "lines": []m{{"product": "SAL", "lot": "S-1", "quantity": 3}}}).want(http.StatusCreated)
	a := s.do(account.Stock, "POST", "/v1/counts", m{"location": "room", "at": counted, "lines": []m{{"product": "SAL", "lot": "S-1", "counted": 4}}}).want(http.StatusCreated)
	e := s.do(account.Quality, "GET", fmt.Sprintf("/v1/entries/%d", a.number("entry")), nil).want(http.StatusOK)
	if e.number("body", "lines", 0, "book") != 5 || a.at("lines", 0, "recount") != true {
		t.Errorf("counted before the move, recorded after it: %s, %s", a.body, e.body)
	}
	schema := theDescription().doc.Components.Schemas["CountWritten"].Value.Properties["lines"].Value.Items.Value.Properties["recount"].Value
	if got := schema.Description; !strings.Contains(got, "the book of the time of the count") {
		t.Errorf("the description says %q", got)
	}
}

// Without a closing count the figures that would follow from it are there and
// null: not counted is not the same as none found, which is 0.
func TestNotCountedIsNull(t *testing.T) {
	s := furnish(t)
	s.receive("SAL", "S-1", "2028-03-31", 5, "room")
	s.receive("DLZ", "D-1", "2028-03-31", 3, "room")
	s.do(account.Stock, "POST", "/v1/counts", m{"location": "room", "shift": m{"date": "2026-03-02", "number": 1}, "lines": []m{{"product": "DLZ", "lot": "D-1", "counted": 0}}}).want(http.StatusCreated)
	a := s.do(account.Stock, "GET", "/v1/reconciliations?date=2026-03-02&shift=1", nil).want(http.StatusOK)
	if got := a.texts("product", "lines"); len(got) != 2 {
		t.Fatalf("lines of %q", got)
	}
	for _, l := range a.list("lines") {
		line := l.(m)
		for _, name := range []string{"closing", "counted", "counted_less_recorded", "open_counted_less_recorded"} {
			if v, ok := line[name]; !ok || (v == nil) != (line["product"] == "SAL") {
				t.Errorf("%v: %s is %v (there: %t)", line["product"], name, v, ok)
			}
		}
	}
	props := theDescription().doc.Components.Schemas["Reconciliation"].Value.Properties["lines"].Value.Items.Value
	for _, name := range []string{"closing", "counted", "counted_less_recorded", "open_counted_less_recorded"} {
		if !props.Properties[name].Value.Nullable || !slices.Contains(props.Required, name) {
			t.Errorf("%s is not described as there and nullable", name)
		}
	}
}

// A piece with the serial of one that is recorded already stops, and a pack of a
// kind that somebody said was not recorded is pointed out with that entry.
func TestFindingsWithinATreatment(t *testing.T) {
	s := furnish(t)
	s.receive("SAL", "S-1", "2028-03-31", 5, "cart-a")
	id := s.opened("P1", "S1")
	absent := s.do(account.Nurse, "POST", "/v1/treatments/"+id+"/absences", m{"category": "saline", "used": true, "cause": "packaging gone"}).want(http.StatusCreated).number("entry")
	body := m{"product": "SAL", "lot": "S-1", "serial": "7"}
	a := s.scan(id, body).want(http.StatusCreated)
	if got := a.texts("code", "findings"); a.text("outcome") != "used" || !slices.Contains(got, "said_not_recorded") ||
		!strings.Contains(a.text("findings", slices.Index(got, "said_not_recorded"), "message"), fmt.Sprint(absent)) {
		t.Errorf("a pack found after all: %s", a.body)
	}
	a = s.scan(id, body).want(http.StatusCreated)
	if a.text("outcome") != "stopped" || a.text("findings", 0, "code") != "same_serial" || a.text("findings", 0, "level") != "stop" {
		t.Errorf("the same piece again: %s", a.body)
	}
	s.do(account.Nurse, "POST", "/v1/corrections", m{"entry": absent, "reason": "the pack was scanned"}).want(http.StatusCreated)
}

// Packs are counted into pieces, findings are told and do not prevent, and what
// is told of a lot on hold can be found again.
func TestPacksFindingsAndHolds(t *testing.T) {
	s := furnish(t)
	a := s.do(account.Stock, "POST", "/v1/receipts", m{"to": "room", "lines": []m{
		{"gtin": gtinNeedleBox, "packs": 3, "lot": "N-1", "expires": "2026-01-31"}, {"gtin": gtinAcid[1:], "lot": "A-1", "quantity": 2, "to": "cart-a"},
	}}).want(http.StatusCreated)
	if a.number("lines", 0, "quantity") != 150 || a.text("lines", 0, "product") != "NDL" || a.text("lines", 0, "findings", 0, "code") != "expired" {
		t.Errorf("expired needles: %s", a.body)
	}
	if a.text("lines", 1, "product") != "A2K" || a.text("lines", 1, "to") != "cart-a" || len(a.list("entries")) != 2 {
		t.Errorf("13 digits: %s", a.body)
	}
	s.do(account.Nurse, "POST", "/v1/holds", m{"product": "A2K", "lots": []string{"A-1"}, "reason": "leaks", "notice": "FN-7"}).want(http.StatusCreated)
	l := s.do(account.Nurse, "GET", "/v1/lots?product="+gtinAcid, nil).want(http.StatusOK)
	if l.number("lots", 0, "on_hand") != 2 || l.text("lots", 0, "hold", "notice") != "FN-7" || l.text("lots", 0, "hold", "by") != "nurse" {
		t.Errorf("lots: %s", l.body)
	}
	id := s.opened("P1", "S1")
	st := s.scan(id, m{"gtin": gtinAcid, "lot": "A-1"}).want(http.StatusCreated)
	if st.text("outcome") != "stopped" || st.text("findings", 0, "code") != "held" {
		t.Errorf("a lot on hold: %s", st.body)
	}
	used := s.do(account.Nurse, "POST", "/v1/treatments/"+id+"/answers", m{"stopped": st.number("entry"), "used": true, "reason": "the last one there is"}).want(http.StatusCreated)
	if used.text("outcome") != "used" || used.text("reason") != "the last one there is" || used.number("answers") != st.number("entry") {
		t.Errorf("used all the same: %s", used.body)
	}
}

// A use from a piece that was opened before takes none, and a treatment that
// was not done wastes what had been prepared.
func TestOpenedBeforeAndNotDone(t *testing.T) {
	s := furnish(t)
	id := s.opened("P1", "S1")
	a := s.scan(id, m{"gtin": gtinAcid, "lot": "A-1", "opened_before": true}).want(http.StatusCreated)
	if a.number("taken_as", "quantity") != 0 {
		t.Errorf("opened before: %s", a.body)
	}
	a = s.scan(id, m{"gtin": gtinDialyzer, "lot": "D-1", "expires": "2020-01-31", "reason": "checked by two"}).want(http.StatusCreated)
	if a.text("outcome") != "used" || a.text("reason") != "checked by two" || a.text("findings", 0, "code") != "expired" {
		t.Errorf("a reason in advance: %s", a.body)
	}
	path := "/v1/treatments/" + id + "/closures"
	s.do(account.Nurse, "POST", path, m{"not_done": true}).problem(http.StatusUnprocessableEntity, "invalid")
	a = s.do(account.Nurse, "POST", path, m{"not_done": true, "note": "sent home"}).want(http.StatusCreated)
	if len(a.list("wasted")) != 1 || a.text("wasted", 0, "lot") != "D-1" || a.at("not_done") != true {
		t.Errorf("not done: %s", a.body)
	}
	s.do(account.Nurse, "POST", path, m{}).problem(http.StatusConflict, "treatment_closed")
	if tr := s.do(account.Nurse, "GET", "/v1/treatments/"+id, nil).want(http.StatusOK); tr.at("not_done") != true || tr.at("minutes") != nil {
		t.Errorf("a treatment not done: %s", tr.body)
	}
	// A slip is taken back: the closing is struck out, and the pack is used again.
	s.do(account.Nurse, "POST", "/v1/corrections", m{"entry": a.number("entry"), "reason": "wrong patient"}).want(http.StatusCreated)
	if tr := s.do(account.Nurse, "GET", "/v1/treatments/"+id, nil).want(http.StatusOK); tr.at("not_done") != false || tr.at("closed") != false {
		t.Errorf("taken back: %s", tr.body)
	}

	id = s.opened("P2", "S2")
	s.pass(4 * 3600e9)
	a = s.do(account.Nurse, "POST", "/v1/treatments/"+id+"/closures", m{"minutes": 215, "note": "cramps"}).want(http.StatusCreated)
	if a.number("minutes") != 215 || a.text("note") != "cramps" {
		t.Errorf("closure: %s", a.body)
	}
	if x := s.do(account.Nurse, "GET", "/v1/treatments/"+id+"/expected", nil).want(http.StatusOK); x.number("minutes") != 215 || x.at("closed") != true {
		t.Errorf("expected: %s", x.body)
	}
}

// What was written down late happened when it did.
func TestLateEntries(t *testing.T) {
	s := furnish(t)
	at := "2026-03-02T04:30:00+01:00"
	a := s.do(account.Nurse, "POST", "/v1/treatments", m{"patient": "P1", "station": "S1", "at": at}).want(http.StatusCreated)
	if a.text("start") != "2026-03-02T03:30:00Z" || a.text("happened") != "2026-03-02T03:30:00Z" || a.text("recorded") == a.text("happened") {
		t.Errorf("late: %s", a.body)
	}
	s.do(account.Nurse, "POST", "/v1/treatments", m{"patient": "P1", "station": "S1", "at": "2026-03-02T07:00:00Z"}).problem(http.StatusUnprocessableEntity, "invalid").field("at")
}

// A patient has one treatment at a time, unless somebody says so.
func TestAnotherTreatment(t *testing.T) {
	s := furnish(t)
	s.opened("P1", "S1")
	a := s.do(account.Nurse, "POST", "/v1/treatments", m{"patient": "P1", "station": "S2"}).problem(http.StatusConflict, "already_open")
	if !strings.Contains(a.text("detail"), "S1") {
		t.Errorf("it is not said where: %s", a.body)
	}
	s.do(account.Nurse, "POST", "/v1/treatments", m{"patient": "P1", "station": "S2", "another": true}).want(http.StatusCreated)
}
