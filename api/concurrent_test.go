package api_test

import (
	"bytes"
	"fmt"
	"net/http"
	"sync"
	"testing"

	"lotbook/inventory/account"
)

// 32 nurses set up 32 treatments at the same time, each scan sent twice at
// once, as a tablet does that lost its connection. Every scan is written once,
// both answers are the same, and the pieces add up.
func TestThirtyTwoNursesAtOnce(t *testing.T) {
	const nurses = 32
	s := furnish(t)
	s.receive("DLZ", "D-4711", "2028-03-31", 2*nurses, "cart-a")
	for i := range nurses {
		s.do(account.Nurse, "POST", "/v1/patients", m{"id": fmt.Sprintf("N%02d", i), "name": fmt.Sprintf("Invented %d", i), "prescription": prescription()}).want(http.StatusCreated)
	}
	var wg sync.WaitGroup
	for i := range nurses {
		wg.Go(func() {
			id := s.do(account.Nurse, "POST", "/v1/treatments", m{"patient": fmt.Sprintf("N%02d", i), "station": "S1"})
			if id.status != http.StatusCreated {
				t.Errorf("nurse %d: %s", i, id.body)
				return
			}
			treatment := id.text("treatment")
			for k, gtin := range []string{gtinDialyzer, gtinBloodline, gtinAcid, gtinBicarb} {
				twiceAtOnce(s, treatment, label(gtin, "280331", "D-4711"), fmt.Sprintf("nurse-%d-%d", i, k))
			}
		})
	}
	wg.Wait()
	if t.Failed() {
		return
	}
	a := s.do(account.Quality, "GET", "/v1/exposures?product="+gtinDialyzer+"&lot=D-4711", nil).want(http.StatusOK)
	if a.number("exposures_total") != nurses || a.number("counts", 0, "patients") != nurses {
		t.Errorf("%d exposures of %d patients, want %d of each", a.number("exposures_total"), a.number("counts", 0, "patients"), nurses)
	}
	if got := a.number("left", 0, "quantity"); got != nurses {
		t.Errorf("%d pieces are left, want %d", got, nurses)
	}
}

func twiceAtOnce(s *site, treatment string, codes []string, key string) {
	var answers [2]*answer
	var wg sync.WaitGroup
	for i := range answers {
		wg.Go(func() {
			answers[i] = s.do(account.Nurse, "POST", "/v1/treatments/"+treatment+"/scans", m{"codes": codes}, withKey(key))
		})
	}
	wg.Wait()
	a, b := answers[0], answers[1]
	again := 0
	for _, x := range answers {
		if x.header.Get("Idempotency-Replayed") == "true" {
			again++
		}
	}
	if a.status != http.StatusCreated || b.status != a.status || !bytes.Equal(a.body, b.body) || again != 1 {
		s.t.Errorf("%s: statuses %d and %d, %d of them repeated:\n%s\n%s", key, a.status, b.status, again, a.body, b.body)
	}
}
