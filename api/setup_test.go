package api_test

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/textproto"
	"os"
	"slices"
	"strings"
	"testing"

	"lotbook/inventory/account"
)

// picture reads a picture of a label. They were made by another encoder than
// the reader's library: see reading/testdata/SOURCE.md.
func picture(t *testing.T, name string) []byte {
	t.Helper()
	b, err := os.ReadFile("reading/testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// form puts a picture and a scan's JSON document into a multipart form.
func form(t *testing.T, pic []byte, doc string) raw { return formWith(t, "scan", pic, doc) }

// formWith does so with the document in a part of another name.
func formWith(t *testing.T, part string, pic []byte, doc string) raw {
	t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for _, part := range []struct {
		name, mediaType, file string
		body                  []byte
	}{{part, "application/json", "", []byte(doc)}, {"picture", "image/png", "pack.png", pic}} {
		if len(part.body) == 0 {
			continue
		}
		h := textproto.MIMEHeader{}
		disposition := `form-data; name="` + part.name + `"`
		if part.file != "" {
			disposition += `; filename="` + part.file + `"`
		}
		h.Set("Content-Disposition", disposition)
		h.Set("Content-Type", part.mediaType)
		p, err := w.CreatePart(h)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := p.Write(part.body); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return raw{w.FormDataContentType(), b.Bytes()}
}

// A nurse's treatment from setup to its end, as issue 2 has it: packs in any
// order, one of them from a picture, a stop and its answer, a replacement, what
// was not scanned and why, the real length; then the stock clerk's count and
// the quality officer's question.
func TestATreatmentFromSetupToTheNotice(t *testing.T) {
	s := furnish(t)
	for _, l := range []struct{ product, lot, expires string }{
		{"DLZ", "D-4711", "2028-03-31"},
		{"BLS", "B-1", "2028-03-31"},
		{"A2K", "A-882", "2027-06-30"},
		{"BIC", "C-1", "2028-03-31"},
		{"NDL", "N-1", "2028-03-31"},
		{"SAL", "S-1", "2028-03-31"},
	} {
		s.receive(l.product, l.lot, l.expires, 20, "cart-a")
	}
	id := s.opened("P1", "S1")
	path := "/v1/treatments/" + id

	// The dialyzer from a picture.
	a := s.do(account.Nurse, "POST", path+"/scans", raw{"image/png", picture(t, "dialyzer-datamatrix.png")}).want(http.StatusCreated)
	if a.text("outcome") != "used" || a.text("taken_as", "product_name") != "Dialyzer 1.8" || a.text("taken_as", "category", "title") != "Dialyzer" ||
		a.text("taken_as", "lot") != "D-4711" || a.text("taken_as", "expires") != "2028-03-31" || a.text("taken_as", "how") != "photo" || len(a.list("findings")) != 0 {
		t.Errorf("dialyzer: %s", a.body)
	}
	dialyzer := a.number("entry")
	if got := a.texts("pieces", "missing"); len(got) != 5 {
		t.Errorf("missing after the dialyzer: %s", a.body)
	}

	// The concentrate from a picture in a form, with more said beside it.
	a = s.do(account.Nurse, "POST", path+"/scans", form(t, picture(t, "acid-datamatrix.png"), `{"quantity": 1}`)).want(http.StatusCreated)
	if a.text("outcome") != "used" || a.text("taken_as", "serial") != "55123" || a.text("taken_as", "product") != "A2K" {
		t.Errorf("acid: %s", a.body)
	}

	// The wrong concentrate is stopped, put aside; the book has it both times.
	a = s.scan(id, m{"codes": label(gtinAcid3K, "280331", "A-3")}).want(http.StatusCreated)
	if a.text("outcome") != "stopped" || a.text("findings", 0, "code") != "not_as_prescribed" || a.text("findings", 0, "level") != "stop" ||
		!strings.Contains(a.text("findings", 0, "message"), "K 2.0 mmol/L") {
		t.Errorf("wrong acid: %s", a.body)
	}
	stopped := a.number("entry")
	if got := s.do(account.Nurse, "GET", path, nil).want(http.StatusOK); len(got.list("stopped")) != 1 || len(got.list("uses")) != 2 {
		t.Errorf("treatment with a stop: %s", got.body)
	}
	a = s.do(account.Nurse, "POST", path+"/answers", m{"stopped": stopped, "used": false, "reason": "put back"}).want(http.StatusCreated)
	if a.text("outcome") != "set_aside" || a.number("answers") != stopped {
		t.Errorf("answer: %s", a.body)
	}
	s.do(account.Nurse, "POST", path+"/answers", m{"stopped": stopped, "used": true, "reason": "again"}).problem(http.StatusConflict, "not_waiting")

	// The bloodline's label has its product and its lot in two symbols.
	a = s.scan(id, m{"codes": []string{"]C101" + gtinBloodline}}).want(http.StatusOK)
	if a.text("outcome") != "needs_lot" || a.text("read", "product_name") != "Bloodline set" || a.at("entry") != nil {
		t.Errorf("half a label: %s", a.body)
	}
	a = s.scan(id, m{"codes": []string{"]C101" + gtinBloodline, "]C11728033110B-1"}}).want(http.StatusCreated)
	if a.text("outcome") != "used" || a.text("taken_as", "lot") != "B-1" || a.text("taken_as", "how") != "scanned" {
		t.Errorf("both halves: %s", a.body)
	}
	s.scan(id, m{"gtin": gtinBicarb, "lot": "C-1", "how": "typed"}).want(http.StatusCreated)
	a = s.scan(id, m{"codes": label(gtinNeedleBox, "280331", "N-1"), "quantity": 2}).want(http.StatusCreated)
	if !slices.Contains(a.texts("code", "findings"), "box_code") || a.number("taken_as", "quantity") != 2 {
		t.Errorf("needles from their box: %s", a.body)
	}
	if got := a.list("missing"); len(got) != 1 || a.text("missing", 0, "category", "id") != "saline" {
		t.Errorf("missing at the end: %s", a.body)
	}
	a = s.do(account.Nurse, "POST", path+"/absences", m{"category": "saline", "used": true, "cause": "packaging gone"}).want(http.StatusCreated)
	if a.text("missing", 0, "cause") != "packaging gone" {
		t.Errorf("absence: %s", a.body)
	}

	// In mid-treatment the dialyzer clots and is replaced.
	s.pass(90 * 60e9)
	s.scan(id, m{"gtin": gtinDialyzer, "lot": "D-4711", "replaces": dialyzer}).problem(http.StatusUnprocessableEntity, "invalid")
	a = s.scan(id, m{"gtin": gtinDialyzer, "lot": "D-4711", "replaces": dialyzer, "cause": "clotted"}).want(http.StatusCreated)
	if a.text("outcome") != "used" || a.number("replaces") != dialyzer || a.text("cause") != "clotted" {
		t.Errorf("replacement: %s", a.body)
	}

	// Worked out by hand: 4 h at 400 mL/min × 1.8 are 172.8 L of dialysate
	// and 3.840 L of acid at 45X; the unit's priming of 7.5 L comes on top.
	a = s.do(account.Nurse, "GET", path+"/expected", nil).want(http.StatusOK)
	if !strings.Contains(string(a.body), "172.800 L") || a.number("minutes") != 240 {
		t.Errorf("expected: %s", a.body)
	}

	s.pass(150 * 60e9)
	a = s.do(account.Nurse, "POST", path+"/closures", m{}).want(http.StatusCreated)
	if a.number("minutes") != 240 || a.text("missing", 0, "category", "id") != "saline" {
		t.Errorf("closure: %s", a.body)
	}
	if got := s.do(account.Nurse, "GET", "/v1/treatments?open=true", nil).want(http.StatusOK); len(got.list("treatments")) != 0 {
		t.Errorf("still open: %s", got.body)
	}
	countAndAsk(s, id)
}

// countAndAsk counts the cart after the treatment of TestATreatmentFrom…, and
// asks who received the dialyzer's lot and the saline's.
func countAndAsk(s *site, id string) {
	t := s.t
	t.Helper()
	a := s.do(account.Stock, "POST", "/v1/counts", m{
		"location": "cart-a", "complete": true, "shift": m{"date": "2026-03-02", "number": 1}, "lines": []m{
			{"product": "DLZ", "lot": "D-4711", "counted": 18},
			{"product": "BLS", "lot": "B-1", "counted": 19},
			{"product": "A2K", "lot": "A-882", "counted": 19},
			{"product": "BIC", "lot": "C-1", "counted": 19},
			{"product": "NDL", "lot": "N-1", "counted": 18},
			{"product": "SAL", "lot": "S-1", "counted": 19},
		},
	}).want(http.StatusCreated)
	if a.at("lines", 5, "recount") != true {
		t.Errorf("a saline is gone, and no recount is asked for: %s", a.body)
	}
	a = s.do(account.Stock, "GET", "/v1/reconciliations?date=2026-03-02&shift=1", nil).want(http.StatusOK)
	if a.number("treatments") != 1 {
		t.Errorf("reconciliation: %s", a.body)
	}
	for i, product := range a.texts("product", "lines") {
		if product != "SAL" {
			continue
		}
		// One piece went that nobody recorded, and the treatment says why.
		if a.number("lines", i, "closing") != 19 || a.number("lines", i, "counted") != 1 || a.number("lines", i, "recorded") != 0 || a.number("lines", i, "expected") != 1 ||
			a.number("lines", i, "open_counted_less_recorded") != 0 || a.text("lines", i, "causes", 0, "kind") != "not_recorded" {
			t.Errorf("saline: %s", a.body)
		}
	}

	a = s.do(account.Quality, "GET", "/v1/exposures?product="+gtinDialyzer+"&lot=D-4711", nil).want(http.StatusOK)
	if a.number("exposures_total") != 2 || a.text("exposures", 0, "patient_name") != "Invented P1" || a.text("exposures", 0, "treatment") != id ||
		a.text("exposures", 0, "grade") != "confirmed" || a.text("exposures", 0, "until") != "2026-03-02T07:30:00Z" || a.text("asked_by") != "The quality" {
		t.Errorf("who received the dialyzers: %s", a.body)
	}
	mass := a.at("mass_balance").(m)
	if mass["received"] != 20.0 || mass["used"] != 2.0 || mass["on_hand"] != 18.0 || mass["unaccounted"] != 0.0 {
		t.Errorf("mass balance %v", mass)
	}
	a = s.do(account.Quality, "GET", "/v1/exposures?product=SAL&lot=S-1", nil).want(http.StatusOK)
	if a.number("exposures_total") != 1 || a.text("exposures", 0, "grade") == "confirmed" {
		t.Errorf("who may have received the saline: %s", a.body)
	}
	// A lot that was never here is another answer than one that nobody received.
	a = s.do(account.Quality, "GET", "/v1/exposures?product="+gtinDialyzer+"&lot=D-471I", nil).want(http.StatusOK)
	if a.at("on_record") != false || a.number("exposures_total") != 0 || a.text("similar_lots", 0, "lot") != "D-4711" {
		t.Errorf("a lot that was never here: %s", a.body)
	}
}
