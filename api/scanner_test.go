package api_test

import (
	"net/http"
	"strings"
	"testing"

	"lotbook/inventory/account"
	"lotbook/scanner/wedge"
)

// A scanner's scans of the test sheet are kept, and what it types is read by
// them: in a treatment, in a delivery, and by itself. The scanner is set for US
// keys on a German computer and sends | for the separator; what its keys give is
// that of xkeyboard-config (scanner/wedge/testdata/keyboards.txt).
func TestScannersOverTheAPI(t *testing.T) {
	s := furnish(t)
	typed := func(text string) string {
		t.Helper()
		out, ok := wedge.Typed(strings.ReplaceAll(text, "\x1d", "|"), wedge.US, wedge.German, wedge.CapsOff)
		if !ok {
			t.Fatalf("no key for all of %q", text)
		}
		return out
	}
	var scans []string
	for _, c := range wedge.SheetCodes() {
		scans = append(scans, typed(c.Text))
	}
	if a := s.do(account.Nurse, "POST", "/v1/scanners", m{"id": "Cart A", "scans": scans[:2]}).want(http.StatusUnprocessableEntity); a.text("code") != "test_sheet" || !strings.Contains(string(a.body), "Code 3") {
		t.Errorf("two of the codes: %s", a.body)
	}
	s.do(account.Nurse, "POST", "/v1/scanners", m{"id": "", "scans": scans}).want(http.StatusUnprocessableEntity)
	a := s.do(account.Nurse, "POST", "/v1/scanners", m{"id": "Cart A", "scans": scans}).want(http.StatusCreated)
	if a.text("scanner", "profile", "separator") != "|" || a.text("scanner", "profile", "host_layout") != "de" || !strings.Contains(string(a.body), "keyboard_layout") {
		t.Errorf("kept: %s", a.body)
	}
	if l := s.do(account.Quality, "GET", "/v1/scanners", nil).want(http.StatusOK); len(l.list("scanners")) != 1 || l.text("scanners", 0, "id") != "Cart A" {
		t.Errorf("listed: %s", l.body)
	}

	id := s.opened("P1", "S1")
	code := typed("01" + gtinDialyzer + "17280331" + "10YZ-1" + "\x1d" + "21Y7")
	if a := s.scan(id, m{"codes": []string{code}, "scanner": "Cart A"}).want(http.StatusCreated); a.text("taken_as", "lot") != "YZ-1" || a.text("taken_as", "serial") != "Y7" || strings.Contains(string(a.body), "profile_contradicted") {
		t.Errorf("by its profile: %s", a.body)
	}
	if a := s.scan(id, m{"codes": []string{"]d201" + gtinSaline + "17271231" + "10S-100"}, "scanner": "Cart A"}).want(http.StatusCreated); !strings.Contains(string(a.body), "profile_contradicted") || !strings.Contains(string(a.body), "scanner_changed") {
		t.Errorf("a scan that contradicts it: %s", a.body)
	}
	if a := s.scan(id, m{"codes": []string{code}, "scanner": "Cart Z"}).want(http.StatusNotFound); !strings.Contains(string(a.body), "test sheet") {
		t.Errorf("a scanner that was not tested: %s", a.body)
	}
	if a := s.do(account.Stock, "POST", "/v1/read", m{"text": code, "scanner": "Cart A"}).want(http.StatusOK); a.text(0, "lot") != "YZ-1" {
		t.Errorf("read: %s", a.body)
	}
	d := m{"check": true, "to": "room", "supplier": "Invented Supplier", "scanner": "Cart A", "lines": []m{{"codes": []string{code}}}}
	if a := s.do(account.Stock, "POST", "/v1/deliveries", d).want(http.StatusOK); !strings.Contains(string(a.body), `"YZ-1"`) {
		t.Errorf("a delivery: %s", a.body)
	}
}
