package api_test

import (
	"net/http"
	"testing"

	"lotbook/inventory/account"
)

type m = map[string]any

// furnish sets up a small unit over the API: a catalogue, two carts with a
// station each, and two patients with a prescription of 4 h at a blood flow of
// 400 mL/min with a factor of 1.8.
func (s *site) furnish() {
	s.t.Helper()
	each := func(gtin string) []m { return []m{{"level": "each", "gtin": gtin, "holds": 1}} }
	s.do(account.Stock, "POST", "/v1/products", m{"products": []m{
		{"id": "DLZ", "name": "Dialyzer 1.8", "category": "dialyzer", "packs": each(gtinDialyzer)},
		{"id": "BLS", "name": "Bloodline set", "category": "bloodline_set", "packs": each(gtinBloodline)},
		{"id": "A2K", "name": "Acid 2K", "category": "acid_concentrate", "packs": each(gtinAcid), "facts": m{"mix_system": "45X", "potassium_umol_per_l": 2000, "calcium_umol_per_l": 1250, "ions_known": true, "fill_volume_ml": 5000}},
		{"id": "A3K", "name": "Acid 3K", "category": "acid_concentrate", "packs": each(gtinAcid3K), "facts": m{"mix_system": "45X", "potassium_umol_per_l": 3000, "calcium_umol_per_l": 1250, "ions_known": true, "fill_volume_ml": 5000}},
		{"id": "BIC", "name": "Bicarbonate cartridge", "category": "bicarbonate", "packs": each(gtinBicarb)},
		{"id": "NDL", "name": "Fistula needle 15G", "category": "fistula_needle", "packs": []m{{"level": "each", "gtin": gtinNeedle, "holds": 1}, {"level": "inner", "gtin": gtinNeedleBox, "holds": 50}}},
		{"id": "SAL", "name": "Saline 1 L", "category": "saline", "maker": "Invented Maker", "packs": each(gtinSaline)},
	}}).want(http.StatusCreated)
	for id, kind := range map[string]string{"room": "supply_room", "cart-a": "cart", "cart-b": "cart", "quarantine": "quarantine"} {
		s.do(account.Stock, "POST", "/v1/locations", m{"id": id, "name": "The " + id, "kind": kind}).want(http.StatusCreated)
	}
	for _, n := range []string{"1", "2"} {
		s.do(account.Administrator, "POST", "/v1/machines", m{"id": "M" + n, "name": "Machine " + n}).want(http.StatusCreated)
	}
	s.do(account.Administrator, "POST", "/v1/stations", m{"id": "S1", "name": "Station 1", "location": "cart-a", "machine": "M1"}).want(http.StatusCreated)
	s.do(account.Administrator, "POST", "/v1/stations", m{"id": "S2", "name": "Station 2", "location": "cart-b", "machine": "M2"}).want(http.StatusCreated)
	unit := s.do(account.Administrator, "GET", "/v1/unit", nil).want(http.StatusOK).at().(m)
	unit["defaults"] = m{"bloodline_set": "BLS", "bicarbonate": "BIC", "fistula_needle": "NDL", "saline": "SAL"}
	s.do(account.Administrator, "POST", "/v1/unit", unit).want(http.StatusCreated)
	for _, id := range []string{"P1", "P2"} {
		s.do(account.Nurse, "POST", "/v1/patients", m{"id": id, "name": "Invented " + id, "prescription": prescription()}).want(http.StatusCreated)
	}
}

// furnish returns a site with that unit.
func furnish(t *testing.T) *site {
	t.Helper()
	s := newSite(t)
	s.furnish()
	return s
}

func prescription() m {
	return m{
		"products": m{"dialyzer": "DLZ", "acid_concentrate": "A2K"}, "access": "fistula", "minutes": 240,
		"blood_flow_ml_per_min": 400, "flow_factor_thousandths": 1800,
	}
}

// receive puts pieces of a lot at a location.
func (s *site) receive(product, lot, expires string, n int, to string) {
	s.t.Helper()
	s.do(account.Stock, "POST", "/v1/receipts", m{"to": to, "lines": []m{{"product": product, "lot": lot, "expires": expires, "quantity": n}}}).want(http.StatusCreated)
}

// opened opens a treatment and returns its id.
func (s *site) opened(patient, station string) string {
	s.t.Helper()
	return s.do(account.Nurse, "POST", "/v1/treatments", m{"patient": patient, "station": station}).want(http.StatusCreated).text("treatment")
}

// scan scans a line of text into a treatment.
func (s *site) scan(treatment string, body m, options ...option) *answer {
	s.t.Helper()
	return s.do(account.Nurse, "POST", "/v1/treatments/"+treatment+"/scans", body, options...)
}

// label is what a keyboard scanner types of a GS1 DataMatrix: the symbology
// identifier, then the element strings (GS1 General Specifications 7.8).
func label(gtin, yymmdd, lot string) []string {
	return []string{"]d201" + gtin + "17" + yymmdd + "10" + lot}
}
