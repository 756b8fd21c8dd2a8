package api_test

import (
	"bytes"
	"encoding/json"
	"image"
	"image/png"
	"maps"
	"net/http"
	"slices"
	"strings"
	"testing"

	"lotbook/inventory/account"
)

// hostile are values that no member should be able to do harm with.
func hostile() []json.RawMessage {
	return []json.RawMessage{
		json.RawMessage(`null`), json.RawMessage(`""`), json.RawMessage(`" "`), json.RawMessage(`0`), json.RawMessage(`-1`), json.RawMessage(`1.5`),
		json.RawMessage(`9223372036854775807`), json.RawMessage(`-9223372036854775808`), json.RawMessage(`1e400`), json.RawMessage(`true`),
		json.RawMessage(`[]`), json.RawMessage(`[null]`), json.RawMessage(`{}`), json.RawMessage(`{"a":{"a":{}}}`), json.RawMessage(`"\u0000"`),
		json.RawMessage(`"\ud800"`), json.RawMessage("\"\xff\xfe\""), json.RawMessage(`"=1+1"`), json.RawMessage(`"../../etc"`), json.RawMessage(`"\u202e\u200b"`),
		json.RawMessage(`"` + strings.Repeat("x", 5000) + `"`), json.RawMessage(`"2026-02-30"`), json.RawMessage(`"9999-12-31T23:59:59Z"`), json.RawMessage(`"gtin:"`),
	}
}

// Whatever stands in a member of a write: the service takes it or says in a
// problem why not, and never fails itself. When the test ends the store is
// verified.
func TestHostileValues(t *testing.T) {
	s := furnish(t)
	s.collected = map[string]*http.Request{}
	walkGood(s)
	good := s.collected
	s.collected = nil
	n := 0
	for _, what := range slices.Sorted(maps.Keys(good)) {
		req := good[what]
		var members map[string]json.RawMessage
		body := bodyOf(t, req)
		if err := json.Unmarshal(body, &members); err != nil {
			t.Fatal(err)
		}
		for name := range members {
			for _, v := range hostile() {
				changed := maps.Clone(members)
				changed[name] = v
				n += s.sendHostile(req, changed)
				lines := linesWith(members[name], v)
				for _, l := range lines {
					changed[name] = l
					n += s.sendHostile(req, changed)
				}
			}
		}
	}
	if n < 1000 {
		t.Errorf("only %d requests were made", n)
	}
}

func (s *site) sendHostile(req *http.Request, members map[string]json.RawMessage) int {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, name := range slices.Sorted(maps.Keys(members)) {
		if i > 0 {
			b.WriteByte(',')
		}
		b.WriteString(`"` + name + `":`)
		b.Write(members[name])
	}
	b.WriteByte('}')
	a := s.do(account.Stock, "POST", req.URL.EscapedPath(), raw{"application/json", b.Bytes()}, withHeader("Authorization", req.Header.Get("Authorization")))
	if a.status >= 500 {
		s.t.Errorf("%s: status %d: %.300s\n%s", a.what, a.status, b.Bytes(), a.body)
	}
	return 1
}

// linesWith changes each member of the first of a list of objects.
func linesWith(doc, v json.RawMessage) []json.RawMessage {
	var lines []map[string]json.RawMessage
	if json.Unmarshal(doc, &lines) != nil || len(lines) == 0 {
		return nil
	}
	var out []json.RawMessage
	for name := range lines[0] {
		l := maps.Clone(lines[0])
		l[name] = v
		var b bytes.Buffer
		b.WriteString(`[{`)
		for i, k := range slices.Sorted(maps.Keys(l)) {
			if i > 0 {
				b.WriteByte(',')
			}
			b.WriteString(`"` + k + `":`)
			b.Write(l[k])
		}
		b.WriteString(`}]`)
		out = append(out, b.Bytes())
	}
	return out
}

func TestPicturesThatAreTooLarge(t *testing.T) {
	s := newSite(t)
	s.do(account.Nurse, "POST", "/v1/read", raw{"image/png", make([]byte, 20<<20+1)}).problem(http.StatusRequestEntityTooLarge, "too_large")
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 5001, 5000))); err != nil {
		t.Fatal(err)
	}
	s.do(account.Nurse, "POST", "/v1/read", raw{"image/png", b.Bytes()}).problem(http.StatusUnprocessableEntity, "picture_too_large")
}
