package api_test

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"lotbook/inventory/account"
)

// exposed makes a lot with confirmed exposures and one that is not recorded.
func exposed(t *testing.T, lot string, confirmed int) *site {
	t.Helper()
	s := furnish(t)
	s.receive("DLZ", lot, "2028-03-31", 50, "cart-a")
	for range confirmed {
		id := s.opened("P1", "S1")
		s.scan(id, m{"product": "DLZ", "lot": lot}).want(http.StatusCreated)
		s.pass(3600e9)
		s.do(account.Nurse, "POST", "/v1/treatments/"+id+"/closures", m{}).want(http.StatusCreated)
	}
	id := s.opened("P2", "S1")
	s.pass(3600e9)
	s.do(account.Nurse, "POST", "/v1/treatments/"+id+"/closures", m{}).want(http.StatusCreated)
	return s
}

// The exposures come in pages: the confirmed ones first, none twice, none left
// out, and each page says how many there are in all.
func TestExposuresInPages(t *testing.T) {
	s := exposed(t, "D-4711", 5)
	var treatments, grades []string
	path := "/v1/exposures?product=DLZ&lot=D-4711&limit=2"
	pages := 0
	for next := ""; ; {
		p := path
		if next != "" {
			p += "&after=" + url.QueryEscape(next)
		}
		a := s.do(account.Quality, "GET", p, nil).want(http.StatusOK)
		if a.number("exposures_total") != 6 {
			t.Errorf("%d exposures in all, want 6", a.number("exposures_total"))
		}
		treatments = append(treatments, a.texts("treatment", "exposures")...)
		grades = append(grades, a.texts("grade", "exposures")...)
		pages++
		if next = a.text("next"); next == "" || pages > 9 {
			break
		}
	}
	if pages != 3 || len(treatments) != 6 || len(slices.Compact(slices.Sorted(slices.Values(treatments)))) != 6 {
		t.Errorf("%d pages of %q", pages, treatments)
	}
	if want := []string{"confirmed", "confirmed", "confirmed", "confirmed", "confirmed"}; !slices.Equal(grades[:5], want) || grades[5] == "confirmed" {
		t.Errorf("grades %q", grades)
	}
}

// What an answer leaves out is listed with why, and each line opens to entries.
func TestLeftOutAndEvidence(t *testing.T) {
	s := exposed(t, "D-4711", 1)
	s.receive("DLZ", "D-2", "2028-03-31", 5, "cart-a")
	id := s.opened("P1", "S1")
	s.scan(id, m{"product": "DLZ", "lot": "D-2"}).want(http.StatusCreated)
	a := s.do(account.Nurse, "GET", "/v1/exposures/left-out?product=DLZ&lot=D-4711", nil).want(http.StatusOK)
	if got, codes := a.texts("treatment", "treatments"), a.texts("code", "treatments"); !slices.Equal(got, []string{id}) || !slices.Equal(codes, []string{"other_lot_recorded"}) {
		t.Errorf("left out are %q, %q", got, codes)
	}
	a = s.do(account.Nurse, "GET", "/v1/exposures/evidence?product=DLZ&lot=D-4711&treatment="+id, nil).want(http.StatusOK)
	if a.text("grade") != "excluded" || a.text("code") != "other_lot_recorded" || !slices.Contains(a.texts("kind", "entries"), "treatment.used") {
		t.Errorf("%s %s, resting on %q", a.text("grade"), a.text("code"), a.texts("words", "entries"))
	}
	for _, x := range s.do(account.Quality, "GET", "/v1/exposures?product=DLZ&lot=D-4711", nil).want(http.StatusOK).texts("treatment", "exposures") {
		a = s.do(account.Quality, "GET", "/v1/exposures/evidence?product=DLZ&lot=D-4711&treatment="+x, nil).want(http.StatusOK)
		if a.text("grade") == "excluded" || len(a.list("entries")) == 0 {
			t.Errorf("%s is %s", x, a.text("grade"))
		}
	}
}

// Lists come in pages that fit together.
func TestListsInPages(t *testing.T) {
	s := exposed(t, "D-4711", 5)
	for path, member := range map[string][2]string{
		"/v1/products":                           {"products", "id"},
		"/v1/locations":                          {"locations", "id"},
		"/v1/patients":                           {"patients", "id"},
		"/v1/treatments?date=2026-03-02":         {"treatments", "id"},
		"/v1/treatments?patient=P1":              {"treatments", "id"},
		"/v1/treatments?date=2026-03-02&shift=1": {"treatments", "id"},
	} {
		sep := "?"
		if strings.Contains(path, "?") {
			sep = "&"
		}
		whole := s.do(account.Nurse, "GET", path, nil).want(http.StatusOK).texts(member[1], member[0])
		if len(whole) < 2 {
			t.Fatalf("%s: %q is too little to test with", path, whole)
		}
		var parts []string
		for next, n := "", 0; n < 20; n++ {
			a := s.do(account.Nurse, "GET", path+sep+"limit=1&after="+url.QueryEscape(next), nil).want(http.StatusOK)
			parts = append(parts, a.texts(member[1], member[0])...)
			if next = a.text("next"); next == "" {
				break
			}
		}
		if !slices.Equal(parts, whole) {
			t.Errorf("%s: in pages %q, whole %q", path, parts, whole)
		}
	}
	for i, lot := range []string{"L1", "L2", "L3"} {
		s.receive("SAL", lot, "2028-03-31", i+1, "room")
		s.receive("SAL", lot, "2028-03-31", i+1, "cart-b")
	}
	var lines []string
	for next, n := "", 0; n < 20; n++ {
		a := s.do(account.Stock, "GET", "/v1/balances?product=SAL&limit=1&after="+url.QueryEscape(next), nil).want(http.StatusOK)
		for i := range a.list("balances") {
			lines = append(lines, fmt.Sprint(a.text("balances", i, "location"), a.text("balances", i, "lot"), a.number("balances", i, "quantity")))
		}
		if next = a.text("next"); next == "" {
			break
		}
	}
	if want := []string{"cart-bL11", "cart-bL22", "cart-bL33", "roomL11", "roomL22", "roomL33"}; !slices.Equal(lines, want) {
		t.Errorf("balances %q, want %q", lines, want)
	}
}

// The workbook comes as a file with a name that can do no harm, and has what
// the JSON answer has. (That other programs read it is tested where it is
// drawn.)
func TestWorkbooks(t *testing.T) {
	lot := `=1+1/../"x"` // a lot number is whatever was printed
	s := exposed(t, lot, 3)
	a := s.do(account.Quality, "GET", "/v1/exposures.xlsx?product=DLZ&lot="+url.QueryEscape(lot), nil).want(http.StatusOK)
	kind, params, err := mime.ParseMediaType(a.header.Get("Content-Disposition"))
	if err != nil || kind != "attachment" || params["filename"] != "exposures-DLZ--1-1-..--x-.xlsx" {
		t.Errorf("Content-Disposition %q: %v", a.header.Get("Content-Disposition"), err)
	}
	if a.header.Get("Content-Type") != workbookType || a.header.Get("Cache-Control") != "no-store" {
		t.Errorf("headers %v", a.header)
	}
	text := unzipped(t, a.body)
	for _, want := range []string{"Invented P1", "Invented P2", "The quality", s.do(account.Quality, "GET", "/v1/head", nil).text("hash")} {
		if !strings.Contains(text, want) {
			t.Errorf("the workbook does not have %q", want)
		}
	}
	if strings.Contains(text, "<f>") || strings.Contains(text, "<f ") {
		t.Error("the workbook has a formula")
	}
	a = s.do(account.Stock, "GET", "/v1/reconciliations.xlsx?date=2026-03-02&shift=1", nil).want(http.StatusOK)
	if !strings.Contains(a.header.Get("Content-Disposition"), "reconciliation-2026-03-02-shift1.xlsx") || !strings.Contains(unzipped(t, a.body), "Dialyzer 1.8") {
		t.Errorf("reconciliation: %v", a.header)
	}
}

// unzipped returns the text of all parts of a zip file.
func unzipped(t *testing.T, b []byte) string {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	var all strings.Builder
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.Copy(&all, r); err != nil {
			t.Fatal(err)
		}
		_ = r.Close()
	}
	return all.String()
}

// Whoever may ask on the page /lots, with names, may ask here: the answer is the
// same for a nurse and for a quality officer.
func TestNursesAskWhoReceivedALot(t *testing.T) {
	s := exposed(t, "D-4711", 2)
	a := s.do(account.Nurse, "GET", "/v1/exposures?product=DLZ&lot=D-4711", nil).want(http.StatusOK)
	b := s.do(account.Quality, "GET", "/v1/exposures?product=DLZ&lot=D-4711", nil).want(http.StatusOK)
	if a.number("exposures_total") != 3 || a.text("exposures", 0, "patient_name") != "Invented P1" || a.text("asked_by") != "The nurse" {
		t.Errorf("a nurse is answered %s", a.body)
	}
	if x, y := a.texts("treatment", "exposures"), b.texts("treatment", "exposures"); !slices.Equal(x, y) {
		t.Errorf("a nurse is told of %q, a quality officer of %q", x, y)
	}
	s.do(account.Nurse, "GET", "/v1/exposures.xlsx?product=DLZ&lot=D-4711", nil).problem(http.StatusForbidden, "forbidden")
}

// An entry is shown as it stands in the journal, and its hash can be followed
// to the next.
func TestEntriesAreAChain(t *testing.T) {
	s := furnish(t)
	head := s.do(account.Quality, "GET", "/v1/head", nil).want(http.StatusOK)
	prev := strings.Repeat("0", 64)
	for seq := int64(1); seq <= head.number("seq"); seq++ {
		e := s.do(account.Quality, "GET", fmt.Sprintf("/v1/entries/%d", seq), nil).want(http.StatusOK)
		if e.text("previous_hash") != prev {
			t.Fatalf("entry %d follows %s, want %s", seq, e.text("previous_hash"), prev)
		}
		prev = e.text("hash")
	}
	if prev != head.text("hash") {
		t.Errorf("the last entry's hash is %s, the head's %s", prev, head.text("hash"))
	}
}
