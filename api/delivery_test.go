package api_test

import (
	"net/http"
	"slices"
	"sync"
	"testing"

	"lotbook/inventory/account"
)

// The SSCC of the worked example in GS1 General Specifications 7.9.1.
const sscc = "376104250021234569"

func (s *site) deliver(body m, o ...option) *answer {
	s.t.Helper()
	return s.do(account.Stock, "POST", "/v1/deliveries", body, o...)
}

// asked checks that a delivery was not recorded, and which questions a line has.
func (a *answer) asked(line int, codes ...string) *answer {
	a.t.Helper()
	a.want(http.StatusOK)
	var got []string
	for i := range a.list("lines", line, "questions") {
		got = append(got, a.text("lines", line, "questions", i, "code"))
	}
	if a.text("outcome") != "needs_answer" || !slices.Equal(got, codes) {
		a.t.Fatalf("%s: asked %q, want %q: %s", a.what, got, codes, a.body)
	}
	return a
}

// A pallet's label in two codes: 3 boxes of 50 are 150 pieces, in sight before
// they are posted, and posted once.
func TestALogisticUnitArrives(t *testing.T) {
	s := furnish(t)
	pallet := m{"codes": []string{"]C100" + sscc, "]C102" + gtinNeedleBox + "3703\x1d10N-1"}, "expires": "2031-01-31"}
	body := m{"to": "room", "supplier": "Invented Supplier", "lines": []m{pallet}, "check": true}
	a := s.deliver(body).want(http.StatusOK)
	if a.text("outcome") != "checked" || a.number("lines", 0, "packs") != 3 || a.number("lines", 0, "holds") != 50 || a.number("lines", 0, "quantity") != 150 ||
		a.text("lines", 0, "pieces") != "3 × 50 = 150 pieces" || a.text("lines", 0, "logistic_unit") != sscc {
		t.Errorf("checked: %s", a.body)
	}
	head := s.do(account.Stock, "GET", "/v1/head", nil).number("seq")
	delete(body, "check")
	a = s.deliver(body, withKey("pallet")).want(http.StatusCreated)
	if a.number("lines", 0, "quantity") != 150 || a.number("entry") != head+1 || a.text("lines", 0, "logistic_unit") != sscc {
		t.Errorf("recorded: %s", a.body)
	}
	// The same request again is answered again; the same pallet in another is asked about.
	if b := s.deliver(body, withKey("pallet")).want(http.StatusCreated); string(b.body) != string(a.body) || b.header.Get("Idempotency-Replayed") != "true" {
		t.Errorf("again: %s", b.body)
	}
	s.deliver(body).asked(0, "label_again")
	s.deliver(m{"to": "room", "lines": []m{{"codes": label(gtinNeedleBox, "310131", "N-1")}}}).asked(0, "contained")
	// The SSCC alone tells no content.
	a = s.deliver(m{"to": "room", "lines": []m{{"codes": []string{"]C100" + sscc}}}}).want(http.StatusOK)
	if a.text("lines", 0, "outcome") != "needs_product" || a.text("lines", 0, "logistic_unit") != sscc {
		t.Errorf("SSCC alone: %s", a.body)
	}
	s.do(account.Stock, "POST", "/v1/receipts", m{"to": "room", "lines": []m{{"product": "DLZ", "lot": "L", "serial": "7", "quantity": 1}}}).want(http.StatusCreated)
	again := m{"product": "DLZ", "lot": "L", "serial": "7", "quantity": 1}
	s.do(account.Stock, "POST", "/v1/receipts", m{"to": "room", "lines": []m{again}}).problem(http.StatusConflict, "label_received_before")
	again["again"] = true
	s.do(account.Stock, "POST", "/v1/receipts", m{"to": "room", "lines": []m{again}}).want(http.StatusCreated)
}

// A box of 50 needles scanned with 2 pieces, and 100 boxes where 100 pieces were
// ordered: asked before it is posted, and posted as the clerk says.
func TestABoxIsNoPiece(t *testing.T) {
	s := furnish(t)
	box := m{"codes": label(gtinNeedleBox, "310131", "N-1"), "quantity": 2}
	s.deliver(m{"to": "room", "lines": []m{box}}).asked(0, "part_of_pack")
	s.do(account.Stock, "POST", "/v1/orders", m{"number": "PO-1", "supplier": "Invented Supplier", "lines": []m{{"product": "NDL", "quantity": 100}}}).want(http.StatusCreated)
	boxes := m{"codes": label(gtinNeedleBox, "310131", "N-1"), "packs": 100}
	a := s.deliver(m{"order": "PO-1", "to": "room", "lines": []m{boxes}}).asked(0, "over", "quantity_implausible")
	if a.number("lines", 0, "quantity") != 5000 || a.number("order", "lines", 0, "open") != 100 {
		t.Errorf("%s", a.body)
	}
	boxes["packs"] = 2
	s.deliver(m{"order": "PO-1", "to": "room", "lines": []m{boxes}}).want(http.StatusCreated)
	if o := s.do(account.Stock, "GET", "/v1/orders/PO-1", nil).want(http.StatusOK); o.text("status") != "complete" || o.number("lines", 0, "came") != 100 {
		t.Errorf("%s", o.body)
	}
}

// Lines that can't be read do not hide what is asked about the others, and bad
// input is refused with what to do.
func TestDeliveriesOfBadInput(t *testing.T) {
	s := furnish(t)
	a := s.deliver(m{"to": "room", "lines": []m{
		{"codes": []string{"]d201" + gtinDialyzer + "17310131"}},
		{"codes": []string{"hello"}},
		{"gtin": gtinDialyzer, "lot": "X", "expires": "2020-01-31", "quantity": 3},
		{"gtin": "09506000999990", "lot": "Y", "packs": 2},
	}}).want(http.StatusOK)
	for i, want := range []string{"needs_lot", "unreadable", "ready", "ready"} {
		if a.text("lines", i, "outcome") != want {
			t.Errorf("line %d is %s, want %s: %s", i, a.text("lines", i, "outcome"), want, a.body)
		}
	}
	a.asked(2, "expired")
	a.asked(3, "holds_unknown")
	for name, c := range map[string]struct {
		line   m
		status int
		code   string
	}{
		"check digit of a GTIN": {m{"gtin": "09506000100013", "lot": "X", "quantity": 1}, 422, "invalid"},
		"check digit of a SSCC": {m{"gtin": gtinDialyzer, "lot": "X", "quantity": 1, "logistic_unit": "376104250021234560"}, 422, "invalid"},
		"no quantity":           {m{"gtin": gtinDialyzer, "lot": "X"}, 422, "invalid"},
		"pieces and packs":      {m{"gtin": gtinNeedleBox, "lot": "X", "quantity": 7, "packs": 2}, 409, "quantity_differs"},
		"answer":                {m{"gtin": gtinDialyzer, "lot": "X", "quantity": 1, "answer": "keep"}, 422, "invalid"},
		"date":                  {m{"gtin": gtinDialyzer, "lot": "X", "quantity": 1, "expires": "31.12.2027"}, 422, "invalid"},
		"member":                {m{"gtin": gtinDialyzer, "lot": "X", "quantiy": 1}, 400, "unknown_member"},
	} {
		t.Run(name, func(t *testing.T) {
			if p := s.deliver(m{"to": "room", "lines": []m{c.line}}).problem(c.status, c.code); p.text("hint") == "" {
				t.Errorf("%s", p.body)
			}
		})
	}
	s.do(account.Nurse, "POST", "/v1/deliveries", m{"to": "room", "lines": []m{{"product": "DLZ", "lot": "X", "quantity": 1}}}).problem(http.StatusForbidden, "forbidden")
}

// Each answer is in the entry: refused at once, into quarantine, and what is
// lacking.
func TestAnswersAreRecorded(t *testing.T) {
	s := furnish(t)
	s.do(account.Stock, "POST", "/v1/orders", m{"number": "PO-1", "supplier": "Invented Supplier", "lines": []m{{"product": "DLZ", "quantity": 10}, {"product": "SAL", "quantity": 6}}}).want(http.StatusCreated)
	a := s.deliver(m{"order": "PO-1", "number": "DN-9", "to": "room", "lines": []m{
		{"product": "DLZ", "lot": "OLD", "expires": "2020-01-31", "quantity": 4, "answer": "refuse", "why": "sent back with the driver"},
		{"product": "DLZ", "lot": "WET", "expires": "2031-01-31", "quantity": 6, "damaged": "wet", "answer": "quarantine", "why": "supplier called"},
		{"product": "SAL", "noted": 6, "rest": "await"},
	}}).want(http.StatusCreated)
	for i, want := range []m{{"result": "refused"}, {"result": "received", "to": "quarantine"}, {"result": "lacking", "quantity": 6.0}} {
		for k, v := range want {
			if a.at("lines", i, k) != v {
				t.Errorf("line %d: %s is %v, want %v: %s", i, k, a.at("lines", i, k), v, a.body)
			}
		}
	}
	if a.text("lines", 0, "answers", 0, "question") != "expired" || a.text("lines", 1, "answers", 0, "why") != "supplier called" || a.text("supplier") != "Invented Supplier" {
		t.Errorf("%s", a.body)
	}
	o := s.do(account.Stock, "GET", "/v1/orders/PO-1", nil).want(http.StatusOK)
	x := s.do(account.Quality, "GET", "/v1/exposures?product=DLZ&lot=OLD", nil).want(http.StatusOK)
	if x.number("refused", 0, "quantity") != 4 || x.text("refused", 0, "cause") == "" || x.number("mass_balance", "received") != 0 {
		t.Errorf("the lot's answer: %s", x.body)
	}
	if o.text("status") != "part_received" || o.number("lines", 0, "refused") != 4 || o.number("lines", 0, "came") != 6 || o.number("lines", 0, "open") != 4 || o.number("lines", 1, "open") != 6 {
		t.Errorf("%s", o.body)
	}
	lots := s.do(account.Quality, "GET", "/v1/exposures?product=DLZ&lot=WET", nil).want(http.StatusOK)
	if lots.number("mass_balance", "held") != 6 || lots.number("mass_balance", "received") != 6 {
		t.Errorf("%s", lots.body)
	}
	// Struck out, the line is open again.
	s.do(account.Stock, "POST", "/v1/corrections", m{"entry": a.number("lines", 1, "entry"), "reason": "another product"}).want(http.StatusCreated)
	if o := s.do(account.Stock, "GET", "/v1/orders/PO-1", nil); o.number("lines", 0, "open") != 10 {
		t.Errorf("%s", o.body)
	}
}

// Two clerks with the same delivery at the same time: one is taken, the other
// asked.
func TestTwoClerksAtTheDoor(t *testing.T) {
	s := furnish(t)
	s.do(account.Stock, "POST", "/v1/orders", m{"number": "PO-1", "supplier": "Invented Supplier", "lines": []m{{"product": "DLZ", "quantity": 10}}}).want(http.StatusCreated)
	body := m{"order": "PO-1", "to": "room", "lines": []m{{"codes": label(gtinDialyzer, "310131", "D-1"), "packs": 10}}}
	answers := make([]*answer, 8)
	var wg sync.WaitGroup
	for i := range answers {
		wg.Go(func() { answers[i] = s.deliver(body) })
	}
	wg.Wait()
	taken := 0
	for _, a := range answers {
		if a.status == http.StatusCreated {
			taken++
		} else {
			a.asked(0, "over", "line_again")
		}
	}
	b := s.do(account.Stock, "GET", "/v1/balances?location=room&product=DLZ", nil).want(http.StatusOK)
	if taken != 1 || b.number("balances", 0, "quantity") != 10 {
		t.Errorf("taken %d times: %s", taken, b.body)
	}
}
