package api_test

import (
	"net/http"

	"lotbook/inventory/account"
)

// walkMixed asks the operations about kits, batches, tanks and opened
// containers for something good.
func walkMixed(s *site) {
	s.t.Helper()
	const ok, created = http.StatusOK, http.StatusCreated
	s.do(account.Stock, "POST", "/v1/products", m{"products": []m{
		{"id": "BAG", "name": "Dry acid bag", "category": "other"},
		{"id": "MIX", "name": "Acid mixed 2K", "category": "acid_concentrate", "facts": m{"mix_system": "45X", "potassium_umol_per_l": 2000, "calcium_umol_per_l": 1250, "ions_known": true}},
		{"id": "KIT", "name": "Set with needles", "category": "bloodline_set", "components": []m{{"product": "NDL", "pieces": 2}, {"product": "SAL", "pieces": 1, "not_counted": true}}},
	}}).want(created)
	s.do(account.Stock, "POST", "/v1/locations", m{"id": "north", "name": "Unit North", "kind": "unit"}).want(created)
	s.do(account.Stock, "POST", "/v1/locations", m{"id": "home-1", "name": "Home store 1", "kind": "home", "patient": "P1"}).want(created)
	s.receive("BAG", "BG-1", "2028-03-31", 8, "room")
	s.receive("KIT", "K-1", "2028-03-31", 20, "cart-a")
	s.do(account.Stock, "POST", "/v1/kit-contents", m{"product": "KIT", "lot": "K-1", "contents": []m{{"product": "NDL", "lot": "N-7"}, {"product": "SAL", "pieces": 1}}}).want(created)
	s.do(account.Nurse, "GET", "/v1/kit-contents?product=KIT&lot=K-1", nil).want(ok)
	s.do(account.Nurse, "GET", "/v1/kit-contents?product=NDL&lot=N-7", nil).want(ok)
	s.do(account.Administrator, "POST", "/v1/loops", m{"id": "L1", "name": "Loop 1", "stations": []string{"S1", "S2"}}).want(created)
	s.do(account.Administrator, "POST", "/v1/tanks", m{"id": "T1", "name": "Tank 1"}).want(created)
	s.do(account.Nurse, "POST", "/v1/batches", m{
		"batch": "B-1", "product": "MIX", "tank": "T1", "poured_into": "empty", "volume_ml": 375_000, "mixed_by": "Ada", "checked_by": "Bea", "use_by": "2026-04-01T06:00:00Z",
		"from": "room", "inputs": []m{{"product": "BAG", "lot": "BG-1", "quantity": 4}}, "readings": []m{{"conductivity_us_per_cm": 13_900, "ph_hundredths": 272}},
	}).want(created)
	s.do(account.Nurse, "POST", "/v1/batches/B-1/inputs", m{"product": "BAG", "lot": "BG-2", "quantity": 1, "from": "room"}).want(created)
	s.do(account.Nurse, "POST", "/v1/batches/B-1/readings", m{"temperature_tenths_c": 245, "note": "after an hour"}).want(created)
	s.do(account.Nurse, "POST", "/v1/batches", m{"batch": "J-1", "product": "MIX", "mixed_by": "Ada", "inputs": []m{{"product": "BAG", "quantity": 1, "from": "room"}}}).want(created)
	s.do(account.Nurse, "POST", "/v1/batches/J-1/endings", m{"note": "poured away"}).want(created)
	feed := s.do(account.Nurse, "POST", "/v1/tanks/T1/feeds", m{"loop": "L1"}).want(created).number("entry")
	for _, path := range []string{"/v1/loops", "/v1/tanks", "/v1/tanks/T1", "/v1/batches", "/v1/batches?tank=T1&limit=1", "/v1/batches/B-1"} {
		s.do(account.Stock, "GET", path, nil).want(ok)
	}
	s.pass(1)
	s.do(account.Nurse, "POST", "/v1/tanks/T1/feed-ends", m{"feed": feed}).want(created)
	s.do(account.Nurse, "POST", "/v1/tanks/T1/emptyings", m{"note": "rinsed"}).want(created)
	s.do(account.Nurse, "POST", "/v1/containers", m{"container": "C-1", "product": "SAL", "lot": "S1", "expires": "2028-03-31", "from": "cart-a", "location": "cart-b"}).want(created)
	s.do(account.Nurse, "GET", "/v1/containers?location=cart-b&open=true", nil).want(ok)
	s.do(account.Nurse, "POST", "/v1/containers/C-1/moves", m{"location": "cart-a", "note": "to the other bay"}).want(created)
	s.do(account.Nurse, "POST", "/v1/containers/C-1/closures", m{"how": "discarded", "note": "end of the day"}).want(created)
}

// walkMixedBad asks them for what they must refuse.
func walkMixedBad(s *site) {
	s.t.Helper()
	batch := func(more m) m {
		b := m{"product": "MIX", "mixed_by": "Ada", "inputs": []m{{"product": "BAG", "lot": "BG-1", "quantity": 1, "from": "room"}}}
		for k, v := range more {
			b[k] = v
		}
		return b
	}
	s.refuses([]refusal{
		{account.Stock, "GET", "/v1/kit-contents?product=KIT", nil, 400, "parameter_missing"},
		{account.Stock, "GET", "/v1/kit-contents?product=KIT&lot=never", nil, 404, "unknown_lot"},
		{account.Stock, "POST", "/v1/kit-contents", m{"product": "KIT", "lot": "K-1", "contents": []m{{"product": "DLZ", "lot": "D"}}}, 409, "no_component"},
		{account.Stock, "POST", "/v1/kit-contents", m{"product": "SAL", "lot": "K-1", "contents": []m{{"product": "NDL"}}}, 409, "no_kit"},
		{account.Stock, "POST", "/v1/products", m{"products": []m{{"id": "KIX", "name": "X", "category": "other", "components": []m{{"product": "KIT", "pieces": 1}}}}}, 422, "invalid"},
		{account.Stock, "POST", "/v1/locations", m{"id": "home-9", "name": "X", "kind": "home", "patient": "P9"}, 404, "unknown_patient"},
		{account.Stock, "POST", "/v1/locations", m{"id": "home-9", "name": "X", "kind": "home"}, 422, "invalid"},
		{account.Stock, "POST", "/v1/locations", m{"id": "north", "name": "X", "kind": "cart"}, 409, "location_kind"},
		{account.Stock, "POST", "/v1/moves", m{"from": "cart-a", "to": "north", "lines": []m{{"product": "DLZ", "lot": "D-4711", "quantity": 1}}}, 409, "other_unit"},
		{account.Stock, "POST", "/v1/counts", m{"location": "north", "complete": true, "lines": []m{}}, 409, "other_unit"},
		{account.Quality, "POST", "/v1/destructions", m{"product": "DLZ", "lot": "D-4711", "quantity": 1, "from": "cart-a", "witness": "Quality"}, 422, "invalid"},
		{account.Stock, "GET", "/v1/tanks?limit=0", nil, 400, "limit"},
		{account.Administrator, "POST", "/v1/tanks", m{"id": "", "name": "X"}, 422, "invalid"},
		{account.Stock, "GET", "/v1/tanks/T9", nil, 404, "unknown_tank"},
		{account.Nurse, "POST", "/v1/tanks/T9/feeds", m{"loop": "L1"}, 404, "unknown_tank"},
		{account.Nurse, "POST", "/v1/tanks/T1/feeds", m{"loop": "L9"}, 404, "unknown_loop"},
		{account.Nurse, "POST", "/v1/tanks/T1/feeds", m{"stations": []string{"S9"}}, 404, "unknown_station"},
		{account.Nurse, "POST", "/v1/tanks/T1/feeds", m{"stations": []string{}}, 422, "invalid"},
		{account.Nurse, "POST", "/v1/tanks/T1/feed-ends", m{"feed": 1}, 404, "unknown_feed"},
		{account.Nurse, "POST", "/v1/tanks/T9/emptyings", m{}, 404, "unknown_tank"},
		{account.Stock, "GET", "/v1/loops?after=%21", nil, 400, "after"},
		{account.Administrator, "POST", "/v1/loops", m{"id": "L2", "name": "X", "stations": []string{"S1", "S1"}}, 422, "invalid"},
		{account.Stock, "GET", "/v1/batches?limit=0", nil, 400, "limit"},
		{account.Stock, "GET", "/v1/batches/B-9", nil, 404, "unknown_batch"},
		{account.Nurse, "POST", "/v1/batches", batch(m{"batch": "B-1"}), 409, "batch_exists"},
		{account.Nurse, "POST", "/v1/batches", batch(m{"tank": "T9"}), 404, "unknown_tank"},
		{account.Nurse, "POST", "/v1/batches", batch(m{"product": "NONE"}), 404, "unknown_product"},
		{account.Nurse, "POST", "/v1/batches", batch(m{"mixed_by": ""}), 422, "invalid"},
		{account.Nurse, "POST", "/v1/batches", batch(m{"inputs": []m{}}), 400, "lines"},
		{account.Nurse, "POST", "/v1/batches/B-9/inputs", m{"product": "BAG", "quantity": 1, "from": "room"}, 404, "unknown_batch"},
		{account.Nurse, "POST", "/v1/batches/B-1/readings", m{}, 422, "invalid"},
		{account.Nurse, "POST", "/v1/batches/B-1/endings", m{}, 409, "batch_in_tank"},
		{account.Nurse, "POST", "/v1/batches/J-1/endings", m{}, 409, "batch_ended"},
		{account.Nurse, "GET", "/v1/containers", nil, 400, "parameter_missing"},
		{account.Nurse, "POST", "/v1/containers", m{"container": "C-1", "product": "SAL", "lot": "S1", "from": "cart-a"}, 409, "container_exists"},
		{account.Nurse, "POST", "/v1/containers", m{"product": "SAL", "lot": "S1", "quantity": 2, "from": "cart-a"}, 422, "invalid"},
		{account.Nurse, "POST", "/v1/containers/C-1/closures", m{"how": "empty"}, 409, "container_closed"},
		{account.Nurse, "POST", "/v1/containers/C-9/closures", m{"how": "empty"}, 404, "unknown_container"},
		{account.Nurse, "POST", "/v1/containers/C-9/moves", m{"location": "room"}, 404, "unknown_container"},
	})
}
