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

// A code whose separators got lost is asked about on the page, the likeliest ways
// first and the rest folded away; what is touched is recorded. Once a scan of the
// product has left no doubt, one like it is taken alone, and the page says so.
func TestLostSeparatorOnThePage(t *testing.T) {
	s := newSite(t)
	s.ok(s.Open(ctx, by("nurse"), trace.Opening{Patient: "P1", Station: "S1"}))
	path := "/setup/" + string(s.treatment().ID)
	c := newClient(t, s, "nurse")
	text := func(lot, sep, serial string) string {
		return "01" + gtinDialyzer + "17280331" + "10" + lot + sep + "21" + serial
	}
	asked := c.post(path, url.Values{"action": {"scan"}, "key": {"1"}, "text": {text("AB4711", "", "30021")}})
	page := c.get(asked.header.Get("Location")).body
	if len(s.treatment().Uses) != 0 || !strings.Contains(page, "Which of these is the pack in your hand?") {
		t.Fatalf("not asked: %+v\n%s", s.treatment().Uses, page)
	}
	at := strings.Index(page, `Lot <span class="lot">AB4711</span> · serial <span class="lot">30021</span>`)
	if at < 0 {
		t.Fatalf("what is printed is not among the choices:\n%s", page)
	}
	many := c.post(path, url.Values{"action": {"scan"}, "key": {"m"}, "text": {text("1021301", "", "2130102")}})
	c.says("many ways", c.get(many.header.Get("Location")), http.StatusOK, "further ways of reading it")
	number := page[:at]
	number = number[strings.LastIndex(number, `name="choice" value="`)+len(`name="choice" value="`):]
	v, err := url.Parse(asked.header.Get("Location"))
	if err != nil {
		t.Fatal(err)
	}
	form := v.Query()
	form.Set("action", "scan")
	form.Set("key", "2")
	form.Set("choice", number[:strings.IndexByte(number, '"')])
	c.post(path, form)
	if u := s.treatment().Uses; len(u) != 1 || u[0].Lot != "AB4711" || u[0].Serial != "30021" {
		t.Fatalf("chosen: %+v", u)
	}
	a := c.post(path, url.Values{"action": {"scan"}, "key": {"3"}, "text": {text("AB4712", "", "30022")}})
	if u := s.treatment().Uses; len(u) != 2 || u[1].Lot != "AB4712" || u[1].Serial != "30022" {
		t.Fatalf("one like it: %+v", u)
	}
	c.says("taken alone", c.get(a.header.Get("Location")), http.StatusOK, "Read by what is known", "Taken was lot AB4712")
}
