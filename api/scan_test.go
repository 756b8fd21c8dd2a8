package api_test

import (
	"net/http"
	"strings"
	"testing"

	"lotbook/inventory/account"
)

// What is not sure is asked and not written.
func TestScansThatAskFirst(t *testing.T) {
	s := furnish(t)
	id := s.opened("P1", "S1")
	head := func() int64 { return s.do(account.Nurse, "GET", "/v1/head", nil).number("seq") }
	before := head()
	gs := "\x1d"
	for _, c := range []struct {
		name    string
		body    m
		outcome string
		code    string // of the error
	}{
		{"product alone", m{"codes": []string{"]d201" + gtinDialyzer}}, "needs_lot", ""},
		{"lot alone", m{"codes": []string{"]C110D-1"}}, "needs_product", ""},
		{"nothing", m{}, "needs_product", ""},
		{"typed lot alone", m{"lot": "D-1"}, "needs_product", ""},
		{"two packs", m{"codes": []string{"]d201" + gtinDialyzer + "10D-1", "]d201" + gtinBloodline + "10B-1"}}, "needs_choice", ""},
		{"bad check digit", m{"codes": []string{"]d201" + "09506000100013" + "10D-1"}}, "unreadable", "check_digit"},
		{"bad check digit, from a picture", m{"symbols": []m{{"symbology": "]d2", "raw": "0109506000100013" + "21A" + gs + "10D-1"}}}, "unreadable", "check_digit"},
		{"not a code", m{"codes": []string{"hello"}}, "unreadable", "not_a_pack"},
	} {
		a := s.scan(id, c.body)
		if a.status != http.StatusOK || a.text("outcome") != c.outcome || a.text("treatment") != id {
			t.Errorf("%s: status %d: %s", c.name, a.status, a.body)
			continue
		}
		if c.code != "" && !strings.Contains(a.text("error", "code"), c.code) {
			t.Errorf("%s: error %q, want %q", c.name, a.text("error", "code"), c.code)
		}
		if !strings.HasPrefix(a.text("message"), "Nothing was recorded") {
			t.Errorf("%s: message %q", c.name, a.text("message"))
		}
	}
	if after := head(); after != before {
		t.Errorf("the journal went from %d to %d", before, after)
	}

	// The answer to the question, with the same codes and even the same key.
	two := []string{"]d201" + gtinDialyzer + "10D-1", "]d201" + gtinBloodline + "10B-1"}
	a := s.scan(id, m{"codes": two}, withKey("choice")).want(http.StatusOK)
	if len(a.list("choices")) != 2 || a.text("choices", 1, "lot") != "B-1" {
		t.Fatalf("choices: %s", a.body)
	}
	a = s.scan(id, m{"codes": two, "choice": 2}, withKey("choice")).want(http.StatusCreated)
	if a.text("taken_as", "product") != "BLS" || a.text("taken_as", "lot") != "B-1" {
		t.Errorf("chosen: %s", a.body)
	}
	a = s.scan(id, m{"codes": []string{"]d201" + gtinDialyzer}, "lot": "D-2"}).want(http.StatusCreated)
	if a.text("taken_as", "lot") != "D-2" || a.text("taken_as", "how") != "typed" {
		t.Errorf("typed lot: %s", a.body)
	}
	a = s.scan(id, m{"codes": []string{"]d201" + gtinSaline}, "no_lot": true}).want(http.StatusCreated)
	if a.text("taken_as", "lot") != "" || a.text("missing", 0, "category", "id") == "" {
		t.Errorf("no lot: %s", a.body)
	}
}

// What a picture showed comes back as symbols, so that the picture need not be
// sent twice.
func TestSymbolsOfAPictureAreCarried(t *testing.T) {
	s := furnish(t)
	id := s.opened("P1", "S1")
	a := s.do(account.Nurse, "POST", "/v1/treatments/"+id+"/scans", raw{"image/png", picture(t, "dialyzer-di-128.png")}).want(http.StatusOK)
	if a.text("outcome") != "needs_lot" || a.text("read", "gtin") != gtinDialyzer || a.text("symbols", 0, "symbology") != "]C1" {
		t.Fatalf("product alone: %s", a.body)
	}
	a = s.scan(id, m{"symbols": a.at("symbols"), "lot": "D-4711", "expires": "2028-03-31", "how": "photo"}).want(http.StatusCreated)
	if a.text("taken_as", "product") != "DLZ" || a.text("taken_as", "lot") != "D-4711" {
		t.Errorf("carried: %s", a.body)
	}
}

func TestScanRequestsThatAreNone(t *testing.T) {
	s := furnish(t)
	id := s.opened("P1", "S1")
	path := "/v1/treatments/" + id + "/scans"
	png := picture(t, "dialyzer-datamatrix.png")
	s.scan(id, m{"codes": label(gtinDialyzer, "280331", "D"), "symbols": []m{{"symbology": "]d2", "raw": "x"}}}).problem(400, "lines")
	s.scan(id, m{"codes": label(gtinDialyzer, "280331", "D"), "how": "guessed"}).problem(400, "wrong_type")
	s.scan(id, m{"codes": make([]string, 21)}).problem(400, "lines")
	s.scan(id, m{"gtin": "09506000100013", "lot": "D"}).problem(422, "invalid")
	s.scan(id, m{"gtin": gtinDialyzer, "lot": "D", "at": "2027-01-01T00:00:00Z"}).problem(422, "invalid")
	s.do(account.Nurse, "POST", path, form(t, png, `{"codes":["x"]}`)).problem(400, "lines")
	s.do(account.Nurse, "POST", path, form(t, png, `{"quantyti":1}`)).problem(400, "unknown_member")
	s.do(account.Nurse, "POST", path, form(t, nil, `{}`)).problem(400, "parameter_missing")
	s.do(account.Nurse, "POST", path, raw{"image/png", nil}).problem(400, "malformed")
	s.do(account.Nurse, "POST", path, raw{"image/gif", png}).problem(415, "media_type")
	s.do(account.Nurse, "POST", path, raw{"multipart/form-data", png}).problem(400, "malformed")
	s.do(account.Nurse, "POST", path, raw{"image/png", []byte("no picture at all")}).problem(422, "not_a_picture")
	s.do(account.Nurse, "POST", "/v1/read", raw{"image/png", []byte("no picture at all")}).problem(422, "not_a_picture")
	s.do(account.Nurse, "POST", "/v1/read", raw{"image/png", png[:len(png)/2]}).problem(422, "damaged_picture")
}

// POST /v1/read answers with the members that `lotbook read` prints.
func TestRead(t *testing.T) {
	s := newSite(t)
	text := "]d20109506000100012172803311" + "0D-4711\n(01)09506000100036(17)270630(10)A-882\nhello\n]d2010950600010001310X\n"
	a := s.do(account.Nurse, "POST", "/v1/read", m{"text": text}).want(http.StatusOK)
	if got := a.list(); len(got) != 4 {
		t.Fatalf("%d codes: %s", len(got), a.body)
	}
	if a.text(0, "gtin") != gtinDialyzer || a.text(0, "lot") != "D-4711" || a.text(0, "expires") != "2028-03-31" || a.text(0, "symbology") != "]d2" || a.text(0, "carrier") != "gs1" {
		t.Errorf("first: %s", a.body)
	}
	if a.text(1, "gtin") != gtinAcid || a.text(1, "lot") != "A-882" {
		t.Errorf("second: %s", a.body)
	}
	if a.at(3, "error") == nil || a.text(3, "lot") != "" {
		t.Errorf("a code that can't be read has something guessed: %s", a.body)
	}
	for _, body := range []raw{{"image/png", picture(t, "acid-datamatrix.png")}, form(t, picture(t, "acid-datamatrix.png"), "")} {
		a = s.do(account.Stock, "POST", "/v1/read", body).want(http.StatusOK)
		if len(a.list()) != 1 || a.text(0, "gtin") != gtinAcid || a.text(0, "serial") != "55123" || a.text(0, "symbology") != "]d2" {
			t.Errorf("picture: %s", a.body)
		}
	}
}

// A code without separators is read as the pages read it: of its ways, the one
// whose lot is on record. Two packs in one line are asked about in any case.
func TestScansLookForTheLotOnRecord(t *testing.T) {
	s := furnish(t)
	id := s.opened("P1", "S1")
	lost := "01" + gtinDialyzer + "10D4711" + "17280331" + "21" + "55123"
	s.scan(id, m{"codes": []string{lost}}).want(http.StatusOK)
	s.receive("DLZ", "D4711", "2028-03-31", 24, "cart-a")
	a := s.scan(id, m{"codes": []string{lost}}).want(http.StatusCreated)
	if a.text("taken_as", "lot") != "D4711" || len(a.list("other_readings")) < 2 || !strings.Contains(string(a.body), "lot_on_record") {
		t.Errorf("lot on record: %s", a.body)
	}
	a = s.scan(id, m{"codes": []string{"01" + gtinDialyzer + "17280331" + "10D4711" + "01" + gtinBloodline + "17270902" + "10B1"}}).want(http.StatusOK)
	if !strings.Contains(a.text("message"), "two packs") {
		t.Errorf("two packs in one line: %s", a.body)
	}
}
