package web_test

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"lotbook/inventory"
	"lotbook/trace"
)

// problems are all that are on record, the latest first.
func (s *site) problems() []trace.ProblemRow {
	s.t.Helper()
	l, err := s.ProblemTable(ctx, trace.ProblemQuery{})
	if err != nil {
		s.t.Fatal(err)
	}
	return l.Rows
}

// One touch at the chair: the panel of a pack's row, and what was seen. The rest
// is said later, on the problem's own page.
func TestProblemAtTheChair(t *testing.T) {
	s, b := atTreatment(t)
	b.scan(scanDialyzer)
	b.scan(scanSaline)
	b.do(click(`//li[contains(@class, "use") and contains(., "D-4711")]//summary[starts-with(., "Problem")]`))
	b.look("problem-touch")
	b.do(click(`//li[contains(@class, "use") and contains(., "D-4711")]//summary[starts-with(., "Problem")]`)) // folded shut by look
	// What is scanned meanwhile is a scan, and takes over from nothing.
	b.scan("]d201" + gtinBicarb + "1728033110C-31")
	b.says(".told", "Taken as bicarbonate")
	if u := s.treatment().Uses; len(u) != 3 || u[2].Replaces != 0 {
		t.Errorf("a scan beside the open panel: %+v", u)
	}
	b.touch(`//li[contains(@class, "use") and contains(., "D-4711")]//button[text()="Blood leak"]`)
	b.says(".told", "Noted: a problem with the dialyzer", "D-4711", "Blood leak", "Still missing")
	b.look("problem-told")
	ps := s.problems()
	if len(ps) != 1 || ps[0].Lot != "D-4711" || ps[0].Use == 0 || ps[0].By != "nurse" {
		t.Fatalf("%+v", ps)
	}
	// In words, of what nobody scanned.
	b.do(click(`//summary[contains(., "not listed by lot")]`))
	b.act(write(`.wrong-other input[name=words]`, "the chair squeaks"), click(`//*[contains(@class, "wrong-other")]//button[text()="Record in words"]`))
	b.says(".told", "the chair squeaks")
	b.touch(`//button[text()="Undo: Noted by mistake"]`)
	b.says(".told", "Struck out: that problem")
	if ps = s.problems(); len(ps) != 1 {
		t.Errorf("%d problems after one was taken back", len(ps))
	}
	// A second problem of the lot: told beside the lot, without a stop or a colour.
	s.ok(s.ReportProblem(ctx, by("nurse"), trace.ProblemFacts{Product: "DLZ", Lot: "D-4711", Seen: []string{"broken"}}))
	b.scan("]d201" + gtinDialyzer + "1728033110D-4711")
	b.says(".told .known", "2 problems recorded with this lot in 90 days")
	b.says(".needs", "2 problems recorded with this lot")
	if u := s.treatment().Uses; len(s.treatment().Stopped) != 0 || strings.Contains(strings.Join(u[len(u)-1].Findings, " "), "problem") {
		t.Errorf("a known problem became a finding: %+v", u[len(u)-1])
	}
	b.look("problem-known")
	b.open(string("/problems/" + url.PathEscape(string(ps[0].ID))))
	b.says("h1", "Dialyzer: blood leak")
	b.do(click(`//label[contains(., "Kept")]`), write(`input[name=kept_where]`, "shelf 3, bag 7"), write(`textarea[name=words]`, "dripped at the lower port"), click(`//label[contains(., "No harm seen")]`))
	b.act(click(`//button[text()="Record this"]`))
	b.says(".problem", "Kept: shelf 3, bag 7", "No harm seen", "dripped at the lower port", "Lot D-4711")
	b.quiet()
	b.look("problem-page")
	b.open("/problems")
	b.says("main", "2 problems", "D-4711")
	b.do(click(`//summary[contains(., "outside a treatment")]`))
	b.look("problem-list")
	b.open("/problems/" + string(ps[0].ID) + "/draft")
	b.says(".draft", "no report", "21 CFR 803.32(c)(4)", "D-4711", "not recorded", "your own country")
	if strings.Contains(b.text(".draft"), "Imagino") {
		t.Error("the draft names the patient")
	}
	b.look("problem-draft")
}

// A picture that is sent is redrawn, shown, and can be struck out; what can't be
// one is refused in words, and nothing is lost.
func TestProblemPages(t *testing.T) {
	s := newSite(t)
	c := newClient(t, s, "nurse")
	report := url.Values{"key": {"k1"}, "code": {"(01)" + gtinDialyzer + "(17)280331(10)D-9"}, "seen": {"packaging", "label"}, "words": {"box <b>wet</b>"}}
	first, again := c.post("/problems", report), c.post("/problems", report)
	path := first.header.Get("Location")
	if first.status != http.StatusSeeOther || path == "" || path != again.header.Get("Location") {
		t.Fatalf("%d to %q, then %q", first.status, path, again.header.Get("Location"))
	}
	c.says("the problem", c.get(path), http.StatusOK, "Packaging damaged, Label wrong or unreadable", "Dialyzer 1.8", "D-9", "&lt;b&gt;wet", "not recorded", "none named")
	c.says("nothing said", c.post("/problems", url.Values{"lot": {"L-1"}}), http.StatusUnprocessableEntity, "not said what was seen", `value="L-1"`)
	c.says("no such kind", c.post("/problems", url.Values{"seen": {"magic"}}), http.StatusUnprocessableEntity, "no kind of problem")
	c.says("no such problem", c.get("/problems/PB0"), http.StatusNotFound, "There is no problem")
	c.says("no such day", c.get("/problems?from=soon"), http.StatusUnprocessableEntity, "Give the date as 2027-03-31")
	c.says("no such product", c.get("/problems?product=NONE"), http.StatusUnprocessableEntity, "There is no product")
	c.says("none found", c.get("/problems?product=SAL"), http.StatusOK, "not proof that there was none")
	c.says("no such form", c.post(path, url.Values{"action": {"dance"}}), http.StatusUnprocessableEntity, "There is no form")
	c.says("nothing said more", c.post(path, url.Values{"action": {"say"}}), http.StatusUnprocessableEntity, "nothing to record")
	c.says("an entry of something else", c.post(path, url.Values{"action": {"strike"}, "entry": {"1"}, "reason": {"x"}}), http.StatusUnprocessableEntity, "not one of this problem")
	if a := c.post(path, url.Values{"action": {"say"}, "key": {"k2"}, "lot": {"D-90"}, "expires": {"20290331"}, "detail_brand": {"Exemplar"}, "done": {"nothing"}}); a.status != http.StatusSeeOther {
		t.Errorf("said more: %d\n%s", a.status, a.body)
	}
	// Only the lot was read wrongly: what else stands in the form still holds.
	if a := c.post(path, url.Values{"action": {"say"}, "key": {"k3"}, "lot": {"D-91"}, "expires": {"2029-03-31"}, "serial": {"S-7"}}); a.status != http.StatusSeeOther {
		t.Errorf("another lot: %d\n%s", a.status, a.body)
	}
	p := s.problems()[0]
	if p.Lot != "D-91" || p.Expires != "2029-03-31" || p.Serial != "S-7" {
		t.Errorf("another lot: %+v", p.ProblemFacts)
	}
	c.post(path, url.Values{"action": {"strike"}, "entry": {itoa(p.Parts[2].Entry)}, "reason": {"read wrongly"}})
	p = s.problems()[0]
	if p.Lot != "D-90" || p.Expires != "2029-03-31" || p.Details["brand"] != "Exemplar" || len(p.Seen) != 2 || p.GTIN != "" {
		t.Errorf("%+v", p.ProblemFacts)
	}
	follow := p.Parts[1].Entry
	c.post(path, url.Values{"action": {"strike"}, "entry": {itoa(follow)}, "reason": {"read wrongly"}})
	if p = s.problems()[0]; p.Lot != "D-9" || p.Details["brand"] != "" {
		t.Errorf("after the follow-up was struck out: %+v", p.ProblemFacts)
	}

	send := func(pic []byte) answer {
		var b bytes.Buffer
		w := multipart.NewWriter(&b)
		_ = w.WriteField("action", "picture")
		_ = w.WriteField("about", "the seal")
		f, err := w.CreateFormFile("picture", "x.jpg")
		if err != nil {
			t.Fatal(err)
		}
		_, _ = f.Write(pic)
		_ = w.Close()
		req, err := http.NewRequest(http.MethodPost, s.url+path, &b)
		if err == nil {
			req.Header.Set("Content-Type", w.FormDataContentType())
			req.Header.Set("Origin", s.url)
		}
		return c.send(req, err)
	}
	m := image.NewRGBA(image.Rect(0, 0, 2400, 900))
	for i := range 900 {
		m.SetRGBA(i, i, color.RGBA{200, 0, 0, 255})
	}
	var pic bytes.Buffer
	if err := jpeg.Encode(&pic, m, nil); err != nil {
		t.Fatal(err)
	}
	if a := send(pic.Bytes()); a.status != http.StatusSeeOther {
		t.Fatalf("picture: %d\n%s", a.status, a.body)
	}
	shown := s.problems()[0].Pictures[0]
	src := path + "/pictures/" + itoa(shown.Entry)
	c.says("with its picture", c.get(path), http.StatusOK, `src="`+src+`"`, "the seal", `width="1600"`)
	c.says("who received the lot", c.get("/lots?product=DLZ&lot=D-9"), http.StatusOK, "1 problem recorded with this lot", `href="/problems?lot=D-9&amp;product=DLZ"`)
	a := c.get(src)
	if got, err := jpeg.Decode(strings.NewReader(a.body)); err != nil || got.Bounds().Dx() != 1600 || a.header.Get("Content-Type") != "image/jpeg" {
		t.Errorf("%v: %v", a.header, err)
	}
	c.says("no picture", send([]byte("hello")), http.StatusUnprocessableEntity, "not a PNG, JPEG or WebP picture")
	c.says("a HEIF picture", send([]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic")), http.StatusUnprocessableEntity, "HEIF", "JPEG")
	c.says("too large", send(make([]byte, 21<<20)), http.StatusRequestEntityTooLarge, "more bytes")
	c.post(path, url.Values{"action": {"strike"}, "entry": {itoa(shown.Entry)}, "reason": {"a face"}})
	c.says("struck out", c.get(src), http.StatusNotFound, "There is no picture")

	q := newClient(t, s, "quality")
	for file, want := range map[string]string{"/problems.xlsx": "problems-2026-11-25.xlsx", path + "/draft.xlsx": "draft-" + string(p.ID) + ".xlsx"} {
		if a := q.get(file); a.status != http.StatusOK || !strings.Contains(a.header.Get("Content-Disposition"), want) {
			t.Errorf("%s: %d %q", file, a.status, a.header.Get("Content-Disposition"))
		}
		if a := c.get(file); a.status != http.StatusForbidden {
			t.Errorf("%s for a nurse: %d", file, a.status)
		}
	}
	q.says("letter paper", q.get(path+"/draft?paper=letter"), http.StatusOK, `class="draft letter"`, "For paper A4")
	c.post(path, url.Values{"action": {"strike"}, "entry": {itoa(p.Entry)}, "reason": {"it was the wrong box"}})
	struck := c.get(path)
	c.says("struck out whole", struck, http.StatusOK, "does not count as a problem")
	if strings.Contains(struck.body, `value="say"`) || strings.Contains(struck.body, "/draft") {
		t.Error("one that was struck out has forms, or a draft")
	}
	c.says("its draft", c.get(path+"/draft"), http.StatusConflict, "was struck out")
}

// With one touch a problem is recorded without a script too; words with a code in
// them stay words of a problem.
func TestProblemWithoutScript(t *testing.T) {
	s := newSite(t)
	c := newClient(t, s, "nurse")
	s.ok(s.Open(ctx, by("nurse"), trace.Opening{Patient: "P1", Station: "S1"}))
	path := "/setup/" + string(s.treatment().ID)
	c.post(path, url.Values{"action": {"scan"}, "product": {"DLZ"}, "lot": {"D-4711"}})
	use := itoa(s.treatment().Uses[0].Entry)
	page := c.get(path)
	c.says("the page", page, http.StatusOK, `name="seen" value="blood_leak"`, "Problem with something that is not listed by lot")
	a := c.post(path, url.Values{"action": {"problem"}, "use": {use}, "seen": {"blood_leak"}})
	c.says("noted", c.get(a.header.Get("Location")), http.StatusOK, "Noted: a problem with the dialyzer", "Say more")
	a = c.post(path, url.Values{"action": {"problem"}, "category": {"saline"}, "seen": {"leak"}})
	c.says("by its kind", c.get(a.header.Get("Location")), http.StatusOK, "Noted: a problem with the saline", "No lot recorded")
	c.says("nothing", c.post(path, url.Values{"action": {"problem"}, "use": {use}}), http.StatusUnprocessableEntity, "not said what was seen")
	c.says("of another treatment", c.post(path, url.Values{"action": {"problem"}, "use": {"1"}, "seen": {"leak"}}), http.StatusUnprocessableEntity, "no use of entry 1")
	if ps := s.problems(); len(ps) != 2 || ps[1].Lot != "D-4711" || ps[0].Category != inventory.Saline {
		t.Errorf("%+v", ps)
	}
}
