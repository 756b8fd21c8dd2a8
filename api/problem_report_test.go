package api_test

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"

	"lotbook/inventory/account"
)

// itemPicture is a picture of nothing in particular.
func itemPicture(t testing.TB, w, h int) []byte {
	t.Helper()
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := range w {
		m.SetRGBA(i, i*h/w, color.RGBA{uint8(i), 90, 30, 255})
	}
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// reported reports a problem with a dialyzer of a treatment and returns its path.
func reported(s *site, treatment string) string {
	s.t.Helper()
	a := s.do(account.Nurse, "POST", "/v1/problems", m{"treatment": treatment, "category": "dialyzer", "seen": []string{"blood_leak"}}).want(http.StatusCreated)
	return "/v1/problems/" + a.text("problem")
}

// walkProblems asks each operation for something good.
func walkProblems(s *site, treatment string) {
	s.t.Helper()
	const ok, created = http.StatusOK, http.StatusCreated
	s.do(account.Quality, "POST", "/v1/problem-settings", m{"seen": []m{{"code": "squeak", "text": "Squeaks"}}, "within_days": 60, "at_least": 2, "facility": m{"contact": "The officer"}}).want(created)
	s.do(account.Stock, "GET", "/v1/problem-settings", nil).want(ok)
	path := reported(s, treatment)
	s.do(account.Nurse, "POST", path+"/follow-ups", m{"words": "at the lower port", "kept": "kept", "kept_where": "shelf 3", "outcomes": []string{"none_seen"}, "done": "blood returned", "details": m{"brand": "Exemplar"}}).want(created)
	pic := s.do(account.Nurse, "POST", path+"/pictures", raw{"image/png", itemPicture(s.t, 20, 20)}).want(created).number("entry")
	shown := s.do(account.Quality, "GET", path+"/pictures/"+itoa(pic), nil).want(ok)
	if _, err := jpeg.Decode(bytes.NewReader(shown.body)); err != nil || shown.header.Get("Cache-Control") != "no-store" {
		s.t.Errorf("the picture: %v, %v", err, shown.header)
	}
	for _, p := range []string{"/v1/problems", "/v1/problems?product=" + gtinDialyzer + "&from=2026-03-01&to=2026-03-31", path, path + "/draft"} {
		s.do(account.Nurse, "GET", p, nil).want(ok)
	}
	s.do(account.Quality, "GET", "/v1/problems.xlsx?category=dialyzer", nil).want(ok)
	s.do(account.Quality, "GET", path+"/draft.xlsx", nil).want(ok)
}

// walkProblemsBad asks each operation for what it must refuse.
func walkProblemsBad(s *site) {
	s.t.Helper()
	s.refuses([]refusal{
		{account.Nurse, "GET", "/v1/problems?sort=lot", nil, 400, "unknown_parameter"},
		{account.Nurse, "GET", "/v1/problems?product=NONE", nil, 404, "unknown_product"},
		{account.Nurse, "GET", "/v1/problems?from=soon", nil, 422, "invalid"},
		{account.Nurse, "GET", "/v1/problems?from=2026-03-02&to=2026-03-01", nil, 422, "invalid"},
		{account.Nurse, "GET", "/v1/problems?after=%21", nil, 400, "after"},
		{account.Quality, "GET", "/v1/problems.xlsx?limit=1", nil, 400, "unknown_parameter"},
		{account.Nurse, "POST", "/v1/problems", m{}, 422, "invalid"},
		{account.Nurse, "POST", "/v1/problems", m{"treatment": "T0"}, 404, "unknown_treatment"},
		{account.Stock, "POST", "/v1/problems", m{"treatment": "T1", "category": "dialyzer"}, 403, "forbidden"},
		{account.Nurse, "GET", "/v1/problems/PB0", nil, 404, "unknown_problem"},
		{account.Nurse, "GET", "/v1/problems/%00", nil, 404, "unknown_problem"},
		{account.Nurse, "POST", "/v1/problems/PB0/follow-ups", m{"words": "x"}, 404, "unknown_problem"},
		{account.Nurse, "POST", "/v1/problems/PB0/pictures", raw{"image/png", itemPicture(s.t, 20, 20)}, 404, "unknown_problem"},
		{account.Nurse, "POST", "/v1/problems/PB0/pictures", m{}, 415, "media_type"},
		{account.Nurse, "POST", "/v1/problems/PB0/pictures", raw{"image/png", []byte("no picture")}, 422, "not_a_picture"},
		{account.Nurse, "GET", "/v1/problems/PB0/pictures/1", nil, 404, "unknown_problem"},
		{account.Nurse, "GET", "/v1/problems/PB0/draft", nil, 404, "unknown_problem"},
		{account.Quality, "GET", "/v1/problems/PB0/draft.xlsx", nil, 404, "unknown_problem"},
		{account.Nurse, "GET", "/v1/problem-settings?x=1", nil, 400, "unknown_parameter"},
		{account.Administrator, "POST", "/v1/problem-settings", m{"within_days": 0, "at_least": 2}, 422, "invalid"},
	})
}

// A nurse says that a product in a treatment leaked; the rest comes later, by
// somebody else, and the answer has all of it with what it is brought together
// with.
func TestAProblemAtTheChair(t *testing.T) {
	s := furnish(t)
	s.receive("DLZ", "D-4711", "2028-03-31", 10, "cart-a")
	one := s.opened("P1", "S1")
	s.scan(one, m{"codes": label(gtinDialyzer, "280331", "D-4711")}).want(http.StatusCreated)
	path := reported(s, one)
	a := s.do(account.Quality, "GET", path, nil).want(http.StatusOK)
	if a.text("lot") != "D-4711" || a.text("product_name") != "Dialyzer 1.8" || a.text("patient") != "P1" || a.text("machine") != "M1" || a.text("expires") != "2028-03-31" ||
		a.number("together", "of_this_lot", "count") != 1 {
		t.Errorf("%s", a.body)
	}
	// A second one of the lot, found in the store by its code.
	b := s.do(account.Stock, "POST", "/v1/problems", m{"code": "(01)" + gtinDialyzer + "(17)280331(10)D-4711", "seen": []string{"packaging"}, "words": "box wet"}).want(http.StatusCreated)
	if b.text("said", "lot") != "D-4711" || b.text("said", "product") != "DLZ" || b.text("said", "category") != "dialyzer" || b.at("said", "patient") != nil {
		t.Errorf("by its code: %s", b.body)
	}
	l := s.do(account.Nurse, "GET", "/v1/problems", nil).want(http.StatusOK)
	if l.number("problems_total") != 2 || l.number("of_one_lot", 0, "count") != 2 || l.text("of_one_lot", 0, "lot") != "D-4711" || len(l.list("of_one_product")) != 0 {
		t.Errorf("the list: %s", l.body)
	}
	// In pages, none twice.
	var ids []string
	for next := ""; ; {
		p := s.do(account.Nurse, "GET", "/v1/problems?limit=1&after="+url.QueryEscape(next), nil).want(http.StatusOK)
		ids = append(ids, p.texts("problem", "problems")...)
		if next = p.text("next"); next == "" || len(ids) > 5 {
			break
		}
	}
	if !slices.Equal(ids, l.texts("problem", "problems")) || len(ids) != 2 {
		t.Errorf("pages %q", ids)
	}
	// A code that can't be read is kept as it is.
	c := s.do(account.Nurse, "POST", "/v1/problems", m{"code": "smudged", "words": "label smeared"}).want(http.StatusCreated)
	if c.text("said", "code") != "smudged" || c.at("said", "lot") != nil {
		t.Errorf("unreadable: %s", c.body)
	}
	// Struck out, it is not listed any more.
	s.do(account.Nurse, "POST", "/v1/corrections", m{"entry": c.number("entry"), "reason": "was readable"}).want(http.StatusCreated)
	s.do(account.Stock, "POST", "/v1/corrections", m{"entry": a.number("entry"), "reason": "x"}).problem(http.StatusForbidden, "forbidden")
	if got := s.do(account.Nurse, "GET", "/v1/problems", nil).number("problems_total"); got != 2 {
		t.Errorf("%d problems after one was struck out", got)
	}
}

// The draft names no patient, says of each field whether it is recorded, and the
// workbook has the same.
func TestADraftOfAReport(t *testing.T) {
	s := furnish(t)
	id := s.opened("P1", "S1")
	s.scan(id, m{"codes": label(gtinDialyzer, "280331", "D-4711")}).want(http.StatusCreated)
	path := reported(s, id)
	s.do(account.Nurse, "POST", path+"/follow-ups", m{"details": m{"patient_age": "67 years"}, "words": `=HYPERLINK("x")`}).want(http.StatusCreated)
	a := s.do(account.Nurse, "GET", path+"/draft", nil).want(http.StatusOK)
	values := map[string]string{}
	for i := range a.list("fields") {
		key := a.text("fields", i, "field")
		values[key] = a.text("fields", i, "value")
		if (a.at("fields", i, "recorded") == true) != (values[key] != "") || !strings.HasPrefix(a.text("fields", i, "rule"), "21 CFR 803.32(") {
			t.Errorf("field %s: %s", key, a.body)
		}
	}
	if values["lot"] != "D-4711" || values["patient_age"] != "67 years" || values["reporter"] != "The nurse" || values["patient_sex"] != "" || "/v1/problems/"+values["patient_code"] != path {
		t.Errorf("values %q", values)
	}
	if strings.Contains(string(a.body), "Invented P1") || !strings.Contains(a.text("before", 0), "no report") {
		t.Errorf("%s", a.body)
	}
	w := s.do(account.Quality, "GET", path+"/draft.xlsx", nil).want(http.StatusOK)
	text := unzipped(t, w.body)
	for _, want := range []string{"D-4711", "67 years", "not recorded", "21 CFR 803.32(c)(4)", "803.30(a)(1)", "HYPERLINK", "The nurse"} {
		if !strings.Contains(text, want) {
			t.Errorf("the workbook does not have %q", want)
		}
	}
	if strings.Contains(text, "Invented P1") || strings.Contains(text, "<f>") {
		t.Error("the workbook has a patient's name, or a formula")
	}
	list := unzipped(t, s.do(account.Quality, "GET", "/v1/problems.xlsx", nil).want(http.StatusOK).body)
	for _, want := range []string{"Blood leak", "D-4711", "P1", "does not say that the lot is at fault"} {
		if !strings.Contains(list, want) {
			t.Errorf("the list's workbook does not have %q", want)
		}
	}
}

// Pictures: with what they show, bounded, the right bytes back, struck out and
// gone from sight, and the same request written once.
func TestPicturesOfAProblem(t *testing.T) {
	s := furnish(t)
	path := "/v1/problems/" + s.do(account.Stock, "POST", "/v1/problems", m{"words": "torn"}).want(http.StatusCreated).text("problem")
	form := func(picture []byte, about string) raw { return formWith(t, "about", picture, about) }
	large := itemPicture(t, 2000, 500)
	first := s.do(account.Stock, "POST", path+"/pictures", form(large, `{"about": "the seal", "at": "2026-03-02T05:30:00Z"}`), withKey("pic")).want(http.StatusCreated)
	if first.number("picture", "width") != 1600 || first.number("picture", "height") != 400 || first.text("picture", "about") != "the seal" || first.text("happened") != "2026-03-02T05:30:00Z" {
		t.Errorf("%s", first.body)
	}
	again := s.do(account.Stock, "POST", path+"/pictures", form(large, `{"about": "the seal", "at": "2026-03-02T05:30:00Z"}`), withKey("pic")).want(http.StatusCreated)
	if !bytes.Equal(again.body, first.body) || again.header.Get("Idempotency-Replayed") != "true" {
		t.Errorf("sent again: %s", again.body)
	}
	s.do(account.Stock, "POST", path+"/pictures", form(itemPicture(t, 9, 9), `{"about": "the seal", "at": "2026-03-02T05:30:00Z"}`), withKey("pic")).problem(http.StatusConflict, "key_reused")
	s.do(account.Stock, "POST", path+"/pictures", raw{"image/heic", []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic")}).problem(http.StatusUnsupportedMediaType, "media_type")
	a := s.do(account.Stock, "POST", path+"/pictures", raw{"image/jpeg", []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic")}).problem(http.StatusUnprocessableEntity, "not_a_picture")
	if !strings.Contains(a.text("detail"), "HEIF") {
		t.Errorf("%s", a.body)
	}
	s.do(account.Stock, "POST", path+"/pictures", raw{"image/png", make([]byte, 20<<20+1)}).problem(http.StatusRequestEntityTooLarge, "too_large")
	picture := path + "/pictures/" + itoa(first.number("entry"))
	shown := s.do(account.Nurse, "GET", picture, nil).want(http.StatusOK)
	if shown.header.Get("Content-Type") != "image/jpeg" || shown.header.Get("X-Content-Type-Options") != "nosniff" || int64(len(shown.body)) != first.number("picture", "bytes") {
		t.Errorf("%v, %d bytes", shown.header, len(shown.body))
	}
	s.do(account.Stock, "GET", picture, nil).problem(http.StatusForbidden, "forbidden")
	s.do(account.Quality, "POST", "/v1/corrections", m{"entry": first.number("entry"), "reason": "a face"}).want(http.StatusCreated)
	s.do(account.Nurse, "GET", picture, nil).problem(http.StatusNotFound, "unknown_picture")
	for range 11 {
		s.do(account.Stock, "POST", path+"/pictures", raw{"image/png", itemPicture(t, 9, 9)}).want(http.StatusCreated)
	}
	s.do(account.Stock, "POST", path+"/pictures", raw{"image/png", itemPicture(t, 9, 9)}).problem(http.StatusConflict, "pictures_full")
}

func itoa(n int64) string { return strconv.FormatInt(n, 10) }
