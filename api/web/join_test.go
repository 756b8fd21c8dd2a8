package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"lotbook/trace"
)

// The codes of one label are joined within the time that is set, in any order;
// later ones are of another pack, and the first still waits for its lot. The
// texts are element strings of the GS1 General Specifications, section 3.
func TestCodesAreJoinedWithinATime(t *testing.T) {
	const product, lot = "]C101" + gtinDialyzer, "]C117280331" + "10J-1"
	for _, tc := range []struct {
		name          string
		first, second string
		apart         time.Duration
		joined        bool
	}{
		{"product first", product, lot, joinWithin - time.Second, true},
		{"lot first", lot, product, joinWithin - time.Second, true},
		{"too late", product, lot, joinWithin + time.Second, false},
		{"too late, lot first", lot, product, joinWithin + time.Second, false},
	} {
		t.Run(tc.name, func(t *testing.T) {
			s := newSite(t)
			s.ok(s.Open(ctx, by("nurse"), trace.Opening{Patient: "P1", Station: "S1"}))
			path := "/setup/" + string(s.treatment().ID)
			c := newClient(t, s, "nurse")
			first := c.post(path, url.Values{"action": {"scan"}, "key": {"1"}, "text": {tc.first}})
			if first.status != http.StatusSeeOther {
				t.Fatalf("first: %d %s", first.status, first.body)
			}
			asked := first.header.Get("Location")
			v, err := url.Parse(asked)
			if err != nil {
				t.Fatal(err)
			}
			form := v.Query()
			form.Set("action", "scan")
			form.Set("key", "2")
			form.Set("text", tc.second)
			s.pass(tc.apart)
			second := c.post(path, form)
			u := s.treatment().Uses
			if joined := len(u) == 1 && u[0].Lot == "J-1"; joined != tc.joined {
				t.Fatalf("joined: %v, %+v, %s", joined, u, second.header.Get("Location"))
			}
			if !tc.joined && !strings.Contains(second.header.Get("Location"), "left=") {
				t.Errorf("the first code is forgotten: %s", second.header.Get("Location"))
			}
		})
	}
}
