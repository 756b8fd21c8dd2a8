package api_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"lotbook/inventory/account"
	"lotbook/scanner/wedge"
)

// Each operation of the description is asked for something good and for
// something bad; the fixture holds requests and answers against the
// description as they pass.
func TestEveryOperation(t *testing.T) {
	s := furnish(t)
	walkGood(s)
	walkBad(s)
	d := theDescription()
	for path, item := range d.doc.Paths.Map() {
		for method, op := range item.Operations() {
			for _, good := range []bool{true, false} {
				if _, ok := covered.Load(walked{op.OperationID, good}); !ok {
					t.Errorf("%s %s was not walked (good: %v)", method, path, good)
				}
			}
		}
	}
}

func walkGood(s *site) {
	s.t.Helper()
	const ok, created = http.StatusOK, http.StatusCreated
	s.receive("DLZ", "D-4711", "2028-03-31", 48, "cart-a")
	s.do(account.Nurse, "POST", "/v1/read", m{"text": label(gtinDialyzer, "280331", "D-4711")[0]}).want(ok)
	for _, path := range []string{
		"/v1/products", "/v1/products?gtin=" + gtinAcid, "/v1/products/A2K", "/v1/locations", "/v1/stations", "/v1/machines?limit=1", "/v1/unit",
		"/v1/balances", "/v1/balances?location=cart-a&product=DLZ", "/v1/lots?product=" + gtinDialyzer, "/v1/head", "/v1/tokens",
	} {
		s.do(account.Stock, "GET", path, nil).want(ok)
	}
	var sheet []string
	for _, c := range wedge.SheetCodes() {
		sheet = append(sheet, c.Symbology+c.Text)
	}
	s.do(account.Nurse, "POST", "/v1/scanners", m{"id": "Cart A", "scans": sheet}).want(created)
	s.do(account.Quality, "GET", "/v1/scanners", nil).want(ok)
	line := m{"product": "DLZ", "quantity": 24}
	s.do(account.Stock, "POST", "/v1/orders", m{"number": "PO-1", "supplier": "Invented Supplier", "expected": "2026-03-09", "lines": []m{line}}).want(created)
	s.do(account.Stock, "POST", "/v1/orders/PO-1/changes", m{"supplier": "Invented Supplier", "reason": "more needed", "lines": []m{{"gtin": gtinDialyzer, "packs": 30}}}).want(created)
	s.do(account.Stock, "POST", "/v1/deliveries", m{"order": "PO-1", "to": "cart-b", "number": "DN-1", "lines": []m{{"codes": label(gtinDialyzer, "290331", "D-5000"), "packs": 24, "noted_packs": 30, "rest": "close"}}}).want(created)
	for _, path := range []string{"/v1/orders?open=true", "/v1/orders?limit=1", "/v1/orders/PO-1"} {
		s.do(account.Nurse, "GET", path, nil).want(ok)
	}
	s.do(account.Stock, "POST", "/v1/orders/PO-1/cancellations", m{"reason": "closed"}).want(created)
	wanted := m{"supplier": "Invented Supplier", "reason": "needed after all", "lines": []m{{"gtin": gtinDialyzer, "packs": 30}}}
	s.do(account.Stock, "POST", "/v1/orders/PO-1/changes", wanted).problem(http.StatusConflict, "order_cancelled")
	wanted["confirm"] = []string{"order_cancelled"}
	s.do(account.Stock, "POST", "/v1/orders/PO-1/changes", wanted).want(created)
	s.do(account.Stock, "POST", "/v1/orders/PO-1/cancellations", m{"reason": "closed again"}).want(created)
	s.do(account.Stock, "POST", "/v1/ordering", m{
		"unit":     m{"service_level_thousandths": 950, "review_days": 7, "record_days": 56, "lead_time": m{"hours": 168, "sd_hours": 24}, "suppliers": []m{{"supplier": "Invented Supplier", "hours": 72, "sd_hours": 0}}},
		"products": []m{{"product": "DLZ", "supplier": "Invented Supplier", "most_pieces": 500, "shelf_days": 400}, {"product": "SAL", "not_ordered": true}},
	}).want(created)
	for _, path := range []string{"/v1/ordering", "/v1/order-proposals?service_level=0.99&review_days=14&lead_hours=168&lead_sd_hours=0", "/v1/order-proposals.xlsx", "/v1/next-lots?location=cart-a&product=DLZ", "/v1/next-lots", "/v1/next-lots.xlsx"} {
		s.do(account.Stock, "GET", path, nil).want(ok)
	}
	s.do(account.Stock, "POST", "/v1/moves", m{"from": "cart-a", "to": "cart-b", "lines": []m{{"product": "DLZ", "lot": "D-4711", "quantity": 10}}}).want(created)
	s.do(account.Nurse, "POST", "/v1/uses", m{"product": "SAL", "lot": "S1", "quantity": 1, "from": "cart-a", "machine": "M1", "purpose": "rinse"}).want(created)
	s.do(account.Nurse, "POST", "/v1/wastes", m{"product": "DLZ", "lot": "D-4711", "quantity": 1, "from": "cart-a", "cause": "dropped"}).want(created)
	s.do(account.Stock, "POST", "/v1/returns", m{"product": "DLZ", "lot": "D-4711", "quantity": 1, "from": "cart-a", "supplier": "Invented Supplier", "cause": "torn box"}).want(created)
	s.do(account.Quality, "POST", "/v1/destructions", m{"product": "DLZ", "lot": "D-4711", "quantity": 1, "from": "cart-a", "witness": "stock"}).want(created)
	s.do(account.Stock, "POST", "/v1/transfers", m{"direction": "in", "product": "SAL", "lot": "S9", "expires": "2027-01-31", "quantity": 6, "location": "cart-a", "unit": "Unit East"}).want(created)
	s.do(account.Stock, "POST", "/v1/transfers", m{"direction": "out", "product": "SAL", "lot": "S9", "quantity": 1, "location": "cart-a", "unit": "Unit East"}).want(created)
	waste := s.do(account.Nurse, "POST", "/v1/wastes", m{"product": "DLZ", "lot": "D-4711", "quantity": 1, "from": "cart-a", "cause": "wrong entry"}).want(created).number("entry")
	s.do(account.Nurse, "POST", "/v1/corrections", m{"entry": waste, "reason": "nothing was wasted"}).want(created)
	s.do(account.Stock, "POST", "/v1/holds", m{"product": "DLZ", "lots": []string{"D-1"}, "reason": "notice", "notice": "FN-1"}).want(created)
	s.do(account.Quality, "POST", "/v1/releases", m{"product": "DLZ", "lots": []string{"D-1"}, "reason": "cleared"}).want(created)

	walkMixed(s)
	walkNotices(s)
	s.do(account.Nurse, "POST", "/v1/patients/P1/prescriptions", prescription()).want(created)
	s.do(account.Quality, "GET", "/v1/patients", nil).want(ok)
	id := s.opened("P1", "S1")
	path := "/v1/treatments/" + id
	s.scan(id, m{"codes": label(gtinDialyzer, "280331", "D-4711")}).want(created)
	used := s.scan(id, m{"codes": label(gtinDialyzer, "280331", "D-4711")}).want(created).number("entry")
	// A stock clerk doesn't strike out what a treatment used.
	s.do(account.Stock, "POST", "/v1/corrections", m{"entry": used, "reason": "x"}).problem(403, "forbidden")
	stopped := s.scan(id, m{"codes": label(gtinAcid3K, "280331", "A-3")}).want(created).number("entry")
	s.do(account.Nurse, "POST", path+"/answers", m{"stopped": stopped, "used": false, "reason": "put back"}).want(created)
	s.do(account.Nurse, "POST", path+"/absences", m{"category": "saline", "used": true, "cause": "packaging gone"}).want(created)
	for _, p := range []string{"/v1/treatments?open=true", "/v1/treatments?date=2026-03-02&shift=1", "/v1/treatments?patient=P1", path, path + "/expected"} {
		s.do(account.Nurse, "GET", p, nil).want(ok)
	}
	walkProblems(s, id)
	s.pass(4 * 3600e9)
	s.do(account.Nurse, "POST", path+"/closures", m{"minutes": 235}).want(created)
	s.do(account.Stock, "POST", "/v1/counts", m{"location": "cart-a", "complete": true, "shift": m{"date": "2026-03-02", "number": 1}, "lines": []m{{"product": "DLZ", "lot": "D-4711", "counted": 33}}}).want(created)

	open := s.do(account.Stock, "POST", "/v1/count-sheets", m{"location": "cart-a", "products": []string{"DLZ"}, "complete": true, "shift": m{"date": "2026-03-02", "number": 1}}).want(created).text("sheet")
	sheets := "/v1/count-sheets/" + open
	s.do(account.Nurse, "POST", sheets+"/lines", m{"lines": []m{{"product": "DLZ", "lot": "D-4711", "pieces": 30}}}).want(created)
	if a := s.do(account.Nurse, "POST", sheets+"/finishes", m{}).want(created); a.text("state") != "recount" || strings.Contains(string(a.body), "33") {
		s.t.Errorf("finished: %s", a.body)
	}
	if a := s.do(account.Stock, "GET", sheets, nil).want(ok); strings.Contains(string(a.body), "33") || a.text("may_lie_there", 0, "lot") != "D-4711" {
		s.t.Errorf("what the book has is told before the recount: %s", a.body)
	}
	s.do(account.Stock, "GET", sheets+"/expected", nil).problem(403, "forbidden")
	s.do(account.Quality, "GET", sheets+"/expected", nil).want(ok)
	s.do(account.Stock, "POST", sheets+"/lines", m{"lines": []m{{"product": "DLZ", "lot": "D-4711", "pieces": 30}}}).want(created)
	s.do(account.Stock, "POST", sheets+"/finishes", m{}).want(created)
	if a := s.do(account.Stock, "GET", sheets, nil).want(ok); a.number("differences", 0, "difference") != -3 {
		s.t.Errorf("after the recount: %s", a.body)
	}
	s.do(account.Stock, "GET", "/v1/count-sheets?location=cart-a", nil).want(ok)
	s.do(account.Stock, "POST", sheets+"/finishes", m{"causes": []m{{"product": "DLZ", "lot": "D-4711", "cause": "moved", "note": "to bay B"}}}).want(created)
	given := s.do(account.Stock, "POST", "/v1/count-sheets", m{"location": "cart-a"}).want(created).text("sheet")
	s.do(account.Stock, "POST", "/v1/count-sheets/"+given+"/drops", m{"reason": "a treatment began"}).want(created)
	s.do(account.Stock, "GET", "/v1/counting", nil).want(ok)
	s.do(account.Administrator, "POST", "/v1/counting", m{"tolerance_pieces": 1, "causes": []m{{"code": "flood", "text": "the room was flooded"}}, "plan": m{
		"a_share_thousandths": 800, "b_share_thousandths": 950, "a_days": 7, "b_days": 28, "c_days": 91, "movement_days": 91, "prices": []m{{"product": "DLZ", "price_thousandths": 21500}},
	}}).want(created)
	s.do(account.Stock, "GET", "/v1/count-plan?location=cart-a", nil).want(ok)

	s.do(account.Stock, "GET", "/v1/reconciliations?date=2026-03-02&shift=1", nil).want(ok)
	s.do(account.Stock, "GET", "/v1/reconciliations.xlsx?date=2026-03-02&shift=1", nil).want(ok)
	s.do(account.Stock, "GET", "/v1/reconciliations?date=2026-03-01&shift=1&to_date=2026-03-02&to_shift=3", nil).want(ok)
	s.do(account.Stock, "GET", "/v1/trends?from=2026-02-01&to=2026-03-02", nil).want(ok)
	s.do(account.Stock, "GET", "/v1/trends.xlsx?from=2026-02-01&to=2026-03-02&alpha=0.01", nil).want(ok)
	s.do(account.Quality, "POST", "/v1/comparisons", m{"cases": []m{{"treatment": id}}}).want(ok)
	s.do(account.Quality, "POST", "/v1/comparisons", m{"cases": []m{{"patient": "P1"}}, "from": "2026-03-01", "to": "2026-03-02", "alpha": 0.01}).want(ok)
	s.do(account.Quality, "POST", "/v1/comparisons.xlsx", m{"cases": []m{{"patient": "P1", "at": "2026-03-02T12:00:00Z"}}, "days": 0, "within_hours": 36}).want(ok)
	s.do(account.Quality, "GET", "/v1/exposures?product="+gtinDialyzer+"&lot=D-4711", nil).want(ok)
	s.do(account.Quality, "GET", "/v1/exposures.xlsx?product="+gtinDialyzer+"&lot=D-4711", nil).want(ok)
	s.do(account.Quality, "GET", "/v1/exposures/left-out?product="+gtinDialyzer+"&lot=D-4711&from=2026-03-01&to=2026-03-03&limit=5", nil).want(ok)
	s.do(account.Nurse, "GET", "/v1/exposures/evidence?product="+gtinDialyzer+"&lot=D-4711&treatment="+s.opened("P1", "S1"), nil).want(ok)
	for _, list := range []string{"products", "patients", "prescriptions", "schedule", "receipts", "counts", "ordering"} {
		s.do(account.Quality, "GET", "/v1/"+list+".csv", nil).want(ok)
		s.do(account.Quality, "GET", "/v1/"+list+".xlsx", nil).want(ok)
	}
	s.do(account.Quality, "GET", fmt.Sprintf("/v1/entries/%d", waste), nil).want(ok)

	s.do(account.Administrator, "POST", "/v1/users", m{"id": "anna", "name": "Anna Invented", "role": "nurse", "password": "four dry umbrellas"}).want(created)
	s.do(account.Administrator, "POST", "/v1/users/anna/changes", m{"role": "stock"}).want(created)
	s.do(account.Quality, "GET", "/v1/users", nil).want(ok)
	token := s.do(account.Nurse, "POST", "/v1/tokens", m{"label": "a tablet"}).want(created).number("id")
	s.do(account.Nurse, "POST", fmt.Sprintf("/v1/tokens/%d/revocations", token), m{}).want(created)
}

// walkBad asks every operation for what it must refuse.
func walkBad(s *site) {
	s.t.Helper()
	walkMixedBad(s)
	walkNoticesBad(s)
	walkProblemsBad(s)
	s.pass(24 * 3600e9)
	for _, list := range []string{"products", "patients", "prescriptions", "schedule", "receipts", "counts", "ordering"} {
		for _, ext := range []string{".csv", ".xlsx"} {
			s.do(account.Quality, "GET", "/v1/"+list+ext+"?all=1", nil).problem(400, "unknown_parameter")
		}
	}
	s.refuses([]refusal{
		{account.Nurse, "POST", "/v1/read", m{"text": "\n"}, 400, "parameter_missing"},
		{account.Stock, "GET", "/v1/products?limit=0", nil, 400, "limit"},
		{account.Stock, "GET", "/v1/products/NONE", nil, 404, "unknown_product"},
		{account.Stock, "POST", "/v1/products", m{"products": []m{{"id": "X", "name": "X", "category": "kitchen"}}}, 422, "invalid"},
		{account.Stock, "GET", "/v1/locations?after=%21", nil, 400, "after"},
		{account.Stock, "POST", "/v1/locations", m{"id": "x", "name": "X", "kind": "cellar"}, 422, "invalid"},
		{account.Stock, "GET", "/v1/stations?sort=name", nil, 400, "unknown_parameter"},
		{account.Administrator, "POST", "/v1/stations", m{"id": "S9", "name": "S9", "location": "nowhere"}, 404, "unknown_location"},
		{account.Stock, "GET", "/v1/machines?limit=1&limit=2", nil, 400, "repeated_parameter"},
		{account.Administrator, "POST", "/v1/machines", m{"id": "", "name": "X"}, 422, "invalid"},
		{account.Stock, "GET", "/v1/unit?x=1", nil, 400, "unknown_parameter"},
		{account.Administrator, "POST", "/v1/unit", m{"name": "U", "time_zone": "Mars/Base", "shifts": []m{}, "short_dated_days": 1, "rules": m{"needs": []m{}, "prime_minutes": 0, "prime_flow_ml_per_min": 0, "residual_ml": 0}}, 422, "invalid"},
		{account.Stock, "GET", "/v1/ordering?x=1", nil, 400, "unknown_parameter"},
		{account.Stock, "POST", "/v1/ordering", m{"products": []m{{"product": "NONE"}}}, 404, "unknown_product"},
		{account.Stock, "GET", "/v1/order-proposals?service_level=98", nil, 400, "wrong_type"},
		{account.Stock, "GET", "/v1/order-proposals.xlsx?review_days=0", nil, 400, "wrong_type"},
		{account.Stock, "GET", "/v1/next-lots?location=nowhere", nil, 404, "unknown_location"},
		{account.Stock, "GET", "/v1/next-lots.xlsx?product=NONE", nil, 404, "unknown_product"},
		{account.Stock, "GET", "/v1/balances?location=nowhere", nil, 404, "unknown_location"},
		{account.Stock, "GET", "/v1/lots", nil, 400, "parameter_missing"},
		{account.Stock, "POST", "/v1/receipts", m{"to": "cart-a", "lines": []m{}}, 400, "lines"},
		{account.Stock, "POST", "/v1/deliveries", m{"to": "nowhere", "lines": []m{{"product": "DLZ", "lot": "X", "quantity": 1}}}, 404, "unknown_location"},
		{account.Stock, "GET", "/v1/orders?open=perhaps", nil, 400, "wrong_type"},
		{account.Stock, "GET", "/v1/orders/NONE", nil, 404, "unknown_order"},
		{account.Stock, "POST", "/v1/orders", m{"supplier": "", "lines": []m{{"product": "DLZ", "quantity": 1}}}, 422, "invalid"},
		{account.Stock, "POST", "/v1/orders/NONE/changes", m{"supplier": "X", "reason": "x", "lines": []m{{"product": "DLZ", "quantity": 1}}}, 404, "unknown_order"},
		{account.Stock, "POST", "/v1/orders/PO-1/cancellations", m{"reason": "again"}, 409, "order_cancelled"},
		{account.Stock, "POST", "/v1/moves", m{"from": "cart-a", "to": "cart-a", "lines": []m{{"product": "DLZ", "lot": "D-4711", "quantity": 1}}}, 422, "invalid"},
		{account.Nurse, "POST", "/v1/uses", m{"product": "NONE", "quantity": 1, "from": "cart-a"}, 404, "unknown_product"},
		{account.Nurse, "POST", "/v1/wastes", m{"product": "DLZ", "lot": "D-4711", "quantity": 1, "from": "cart-a"}, 422, "invalid"},
		{account.Stock, "POST", "/v1/returns", m{"product": "DLZ", "lot": "D-4711", "quantity": 1, "from": "cart-a"}, 422, "invalid"},
		{account.Stock, "POST", "/v1/destructions", m{"product": "DLZ", "lot": "D-4711", "quantity": 1, "from": "cart-a"}, 422, "invalid"},
		{account.Stock, "POST", "/v1/transfers", m{"direction": "up", "product": "DLZ", "quantity": 1, "location": "cart-a", "unit": "E"}, 400, "wrong_type"},
		{account.Stock, "POST", "/v1/counts", m{"location": "cart-a", "lines": []m{{"product": "DLZ", "counted": -1}}}, 422, "invalid"},
		{account.Stock, "POST", "/v1/count-sheets", m{"location": "attic"}, 404, "unknown_location"},
		{account.Stock, "GET", "/v1/count-sheets/C0", nil, 404, "unknown_sheet"},
		{account.Quality, "GET", "/v1/count-sheets/C0/expected", nil, 404, "unknown_sheet"},
		{account.Stock, "GET", "/v1/count-sheets?place=x", nil, 400, "unknown_parameter"},
		{account.Stock, "POST", "/v1/count-sheets/C0/lines", m{"lines": []m{{"product": "DLZ", "pieces": 1}}}, 404, "unknown_sheet"},
		{account.Stock, "POST", "/v1/count-sheets/C0/finishes", m{}, 404, "unknown_sheet"},
		{account.Stock, "POST", "/v1/count-sheets/C0/drops", m{}, 422, "invalid"},
		{account.Stock, "GET", "/v1/counting?x=1", nil, 400, "unknown_parameter"},
		{account.Administrator, "POST", "/v1/counting", m{"plan": m{"a_days": 0}}, 422, "invalid"},
		{account.Stock, "GET", "/v1/count-plan?date=soon", nil, 422, "invalid"},
		{account.Stock, "POST", "/v1/holds", m{"product": "DLZ", "reason": "x"}, 422, "invalid"},
		{account.Quality, "POST", "/v1/releases", m{"product": "DLZ", "lots": []string{"never"}, "reason": "x"}, 409, "not_held"},
		{account.Quality, "POST", "/v1/corrections", m{"entry": 1, "reason": "x"}, 409, "cannot_correct"},
		{account.Stock, "GET", "/v1/reconciliations?date=2026-03-02", nil, 400, "parameter_missing"},
		{account.Stock, "GET", "/v1/reconciliations.xlsx?date=2026-03-02&shift=9", nil, 404, "unknown_shift"},
		{account.Stock, "GET", "/v1/reconciliations?date=2026-03-02&shift=1&to_date=2026-03-01&to_shift=1", nil, 422, "invalid"},
		{account.Stock, "GET", "/v1/trends?from=2026-03-02", nil, 400, "parameter_missing"},
		{account.Quality, "POST", "/v1/comparisons", m{"cases": []m{}}, 422, "invalid"},
		{account.Quality, "POST", "/v1/comparisons", m{"cases": []m{{"treatment": "T1"}, {"treatment": "T2"}}}, 404, "unknown_treatment"},
		{account.Quality, "POST", "/v1/comparisons.xlsx", m{"cases": []m{{"patient": "P1"}}}, 422, "invalid"},
		{account.Stock, "GET", "/v1/trends?from=2026-03-02&to=2026-03-01", nil, 422, "invalid"},
		{account.Stock, "GET", "/v1/trends.xlsx?from=2026-03-01&to=2026-03-02&alpha=much", nil, 400, "wrong_type"},
		{account.Nurse, "GET", "/v1/patients?limit=x", nil, 400, "limit"},
		{account.Nurse, "POST", "/v1/patients", m{"id": "P9", "name": ""}, 422, "invalid"},
		{account.Nurse, "POST", "/v1/patients/P9/prescriptions", prescription(), 404, "unknown_patient"},
		{account.Nurse, "GET", "/v1/treatments", nil, 400, "parameter_missing"},
		{account.Nurse, "POST", "/v1/treatments", m{"patient": "P9", "station": "S1"}, 404, "unknown_patient"},
		{account.Nurse, "GET", "/v1/treatments/T0", nil, 404, "unknown_treatment"},
		{account.Nurse, "GET", "/v1/treatments/T0/expected", nil, 404, "unknown_treatment"},
		{account.Nurse, "POST", "/v1/treatments/T0/scans", m{"codes": label(gtinDialyzer, "280331", "D-4711")}, 404, "unknown_treatment"},
		{account.Nurse, "POST", "/v1/treatments/T0/answers", m{"stopped": 1, "used": false}, 404, "unknown_treatment"},
		{account.Nurse, "POST", "/v1/treatments/T0/absences", m{"category": "saline", "used": true, "cause": "x"}, 404, "unknown_treatment"},
		{account.Nurse, "POST", "/v1/treatments/T0/closures", m{}, 404, "unknown_treatment"},
		{account.Quality, "GET", "/v1/exposures?product=" + gtinDialyzer, nil, 400, "parameter_missing"},
		{account.Quality, "GET", "/v1/exposures.xlsx?product=NONE&lot=1", nil, 404, "unknown_product"},
		{account.Quality, "GET", "/v1/exposures/left-out?product=DLZ&lot=never", nil, 422, "invalid"},
		{account.Quality, "GET", "/v1/exposures/evidence?product=DLZ&lot=1", nil, 400, "parameter_missing"},
		{account.Quality, "GET", "/v1/exposures/evidence?product=DLZ&lot=1&treatment=T0", nil, 404, "unknown_treatment"},
		{account.Quality, "GET", "/v1/head?x=", nil, 400, "unknown_parameter"},
		{account.Quality, "GET", "/v1/entries/999999", nil, 404, "unknown_entry"},
		{account.Quality, "GET", "/v1/users?limit=-1", nil, 400, "limit"},
		{account.Administrator, "POST", "/v1/users", m{"id": "anna", "name": "Another Anna", "role": "nurse"}, 409, "user_exists"},
		{account.Administrator, "POST", "/v1/users/nobody/changes", m{"active": false}, 404, "unknown_user"},
		{account.Nurse, "GET", "/v1/tokens?user=stock", nil, 403, "forbidden"},
		{account.Nurse, "POST", "/v1/tokens", m{"label": ""}, 422, "invalid"},
		{account.Nurse, "POST", "/v1/tokens/1/revocations", m{}, 404, "unknown_token"},
	})
}

// A refusal is a request that must be refused, and how.
type refusal struct {
	role   account.Role
	method string
	path   string
	body   any
	status int
	code   string
}

// refuses makes requests and checks that each is refused, in a sentence, and told
// what to do.
func (s *site) refuses(list []refusal) {
	s.t.Helper()
	for _, c := range list {
		a := s.do(c.role, c.method, c.path, c.body)
		if a.status != c.status {
			s.t.Errorf("%s: status %d, want %d: %s", a.what, a.status, c.status, a.body)
			continue
		}
		a.problem(c.status, c.code)
		if a.text("hint") == "" {
			s.t.Errorf("%s: it is not said what to do: %s", a.what, a.body)
		}
		if d := a.text("detail"); !strings.HasSuffix(d, ".") {
			s.t.Errorf("%s: %q is not a sentence", a.what, d)
		}
	}
}
