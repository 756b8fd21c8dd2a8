package api_test

import (
	"fmt"
	"net/http"
	"testing"

	"lotbook/inventory/account"
)

// A user is added, given a token, changed, deactivated: each counts from the
// next request on.
func TestUsersAndTheirTokens(t *testing.T) {
	s := furnish(t)
	s.do(account.Administrator, "POST", "/v1/users", m{"id": " Anna ", "name": "Anna Invented", "role": "nurse"}).want(http.StatusCreated)
	u := s.do(account.Administrator, "GET", "/v1/users?limit=1", nil).want(http.StatusOK)
	if u.text("users", 0, "id") != "administrator" || u.text("next") == "" {
		t.Errorf("users: %s", u.body)
	}
	u = s.do(account.Administrator, "GET", "/v1/users?after="+u.text("next"), nil).want(http.StatusOK)
	if u.text("users", 0, "id") != "anna" || u.at("users", 0, "has_password") != false || u.at("users", 0, "active") != true {
		t.Errorf("users: %s", u.body)
	}

	s.do(account.Nurse, "POST", "/v1/tokens", m{"user": "anna", "label": "x"}).problem(http.StatusForbidden, "forbidden")
	tok := s.do(account.Administrator, "POST", "/v1/tokens", m{"user": "anna", "label": "tablet", "expires": "2026-04-01T00:00:00Z"}).want(http.StatusCreated)
	if tok.text("user") != "anna" || tok.text("expires") != "2026-04-01T00:00:00Z" || len(tok.text("secret")) < 32 {
		t.Errorf("token: %s", tok.body)
	}
	anna := withHeader("Authorization", "Bearer "+tok.text("secret"))
	ask := func(path string) *answer { return s.do("", "GET", path, nil, anna) }
	ask("/v1/patients").want(http.StatusOK)
	if l := ask("/v1/tokens").want(http.StatusOK); len(l.list("tokens")) != 1 || l.text("tokens", 0, "issued_by") != "administrator" || l.at("tokens", 0, "valid") != true {
		t.Errorf("her tokens: %s", l.body)
	}

	// Another role counts at once.
	s.do(account.Administrator, "POST", "/v1/users/anna/changes", m{"role": "stock", "name": "Anna of the supply room"}).want(http.StatusCreated)
	ask("/v1/patients").problem(http.StatusForbidden, "forbidden")
	ask("/v1/products").want(http.StatusOK)

	// Another password ends what was given before.
	s.do(account.Administrator, "POST", "/v1/users/anna/changes", m{"password": "four dry umbrellas", "role": "nurse"}).problem(http.StatusBadRequest, "lines")
	s.do(account.Administrator, "POST", "/v1/users/anna/changes", m{"password": "short"}).want(http.StatusUnprocessableEntity)
	p := s.do(account.Administrator, "POST", "/v1/users/anna/changes", m{"password": "four dry umbrellas"}, withKey("pw")).want(http.StatusCreated)
	if p.at("password_set") != true {
		t.Errorf("password: %s", p.body)
	}
	s.do(account.Administrator, "POST", "/v1/users/anna/changes", m{"password": "another set of umbrellas"}, withKey("pw")).problem(http.StatusConflict, "key_reused")
	ask("/v1/products").problem(http.StatusUnauthorized, "bad_token")

	s.do(account.Administrator, "POST", "/v1/users/anna/changes", m{"active": false}).want(http.StatusCreated)
	s.do(account.Administrator, "POST", "/v1/tokens", m{"user": "anna", "label": "x"}).problem(http.StatusForbidden, "inactive")
	s.do(account.Administrator, "POST", "/v1/users/administrator/changes", m{"role": "nurse"}).problem(http.StatusConflict, "last_administrator")
	s.do(account.Administrator, "POST", "/v1/users/anna/changes", m{}).problem(http.StatusBadRequest, "parameter_missing")
}

// A token is revoked by its user or an administrator, and by nobody else.
func TestRevocations(t *testing.T) {
	s := furnish(t)
	tok := s.do(account.Nurse, "POST", "/v1/tokens", m{"label": "tablet"}).want(http.StatusCreated)
	path := fmt.Sprintf("/v1/tokens/%d/revocations", tok.number("id"))
	secret := withHeader("Authorization", "Bearer "+tok.text("secret"))
	s.do(account.Stock, "POST", path, m{}).problem(http.StatusForbidden, "forbidden")
	s.do("", "GET", "/v1/head", nil, secret).want(http.StatusOK)
	s.do(account.Administrator, "POST", path, m{}).want(http.StatusCreated)
	s.do("", "GET", "/v1/head", nil, secret).problem(http.StatusUnauthorized, "bad_token")
	s.do(account.Nurse, "POST", "/v1/tokens/x/revocations", m{}).problem(http.StatusNotFound, "unknown_token")
}

// A prescription with everything in it comes back as it was given, and a
// treatment keeps the one that it was opened with.
func TestPrescriptions(t *testing.T) {
	s := furnish(t)
	rx := m{
		"products": m{"dialyzer": "DLZ"}, "potassium_umol_per_l": 2000, "calcium_umol_per_l": 1250, "ions_known": true, "mix_system": "45X",
		"access": "catheter", "single_needle": true, "minutes": 210, "blood_flow_ml_per_min": 300, "dialysate_flow_ml_per_min": 500,
		"flow_factor_thousandths": 1500, "heparin": m{"bolus_units": 2000, "units_per_hour": 1000, "stop_early_minutes": 60},
	}
	a := s.do(account.Nurse, "POST", "/v1/patients/P1/prescriptions", rx).want(http.StatusCreated)
	if got, want := fmt.Sprint(a.at("prescription")), fmt.Sprint(rx); got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	id := s.opened("P1", "S1")
	s.do(account.Nurse, "POST", "/v1/patients/P1/prescriptions", prescription()).want(http.StatusCreated)
	a = s.do(account.Nurse, "GET", "/v1/treatments/"+id, nil).want(http.StatusOK)
	if got, want := fmt.Sprint(a.at("prescription")), fmt.Sprint(rx); got != want {
		t.Errorf("the treatment's: got %s, want %s", got, want)
	}
	own := s.do(account.Nurse, "POST", "/v1/treatments", m{"patient": "P2", "station": "S2", "machine": "M1", "prescription": rx}).want(http.StatusCreated)
	if own.text("machine") != "M1" || own.number("prescription", "minutes") != 210 {
		t.Errorf("with a prescription of its own: %s", own.body)
	}
	s.do(account.Nurse, "POST", "/v1/patients/P1/prescriptions", m{"access": "fistula", "minutes": 0}).problem(http.StatusUnprocessableEntity, "invalid").field("minutes")
}

// What was scanned before anyone catalogued it is found by its GTIN.
func TestUncataloguedProducts(t *testing.T) {
	s := furnish(t)
	const gtin = "09506000100104"
	s.do(account.Stock, "POST", "/v1/receipts", m{"to": "room", "lines": []m{{"gtin": gtin, "lot": "U-1", "quantity": 2}}}).want(http.StatusCreated)
	for _, product := range []string{gtin, gtin[1:], "gtin:" + gtin} {
		a := s.do(account.Stock, "GET", "/v1/lots?product="+product, nil).want(http.StatusOK)
		if a.text("lots", 0, "lot") != "U-1" || a.number("lots", 0, "on_hand") != 2 || a.text("lots", 0, "product") != "gtin:"+gtin {
			t.Errorf("%s: %s", product, a.body)
		}
	}
	s.do(account.Stock, "GET", "/v1/lots?product=NONE", nil).problem(http.StatusNotFound, "unknown_product")
	id := s.opened("P1", "S1")
	a := s.scan(id, m{"codes": []string{"]d201" + gtin + "10U-1"}, "category": "syringe"}).want(http.StatusCreated)
	if a.text("taken_as", "product") != "gtin:"+gtin || a.text("taken_as", "category", "id") != "syringe" || a.text("taken_as", "product_name") != "" {
		t.Errorf("scan: %s", a.body)
	}
}
