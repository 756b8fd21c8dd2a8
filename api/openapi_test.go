package api_test

import (
	"bytes"
	"io"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/getkin/kin-openapi/routers/legacy"
)

// The description is held against its standard (OpenAPI 3.0.3) and requests
// and answers against it by kin-openapi, which is none of ours.

// A description is openapi.yaml, loaded once.
type description struct {
	doc    *openapi3.T
	router routers.Router
	err    error
}

var theDescription = sync.OnceValue(func() description {
	for _, t := range []string{"image/png", "image/jpeg", "image/webp", "text/html", workbookType} {
		openapi3filter.RegisterBodyDecoder(t, openapi3filter.FileBodyDecoder)
	}
	doc, err := openapi3.NewLoader().LoadFromFile("openapi.yaml")
	if err != nil {
		return description{err: err}
	}
	if err := doc.Validate(ctx); err != nil {
		return description{err: err}
	}
	r, err := legacy.NewRouter(doc)
	return description{doc, r, err}
})

const workbookType = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"

// covered counts the operations that were walked, by id and whether the answer
// was good.
var covered sync.Map

type walked struct {
	id   string
	good bool
}

// described checks an answer against the description, and the request too if
// the answer is good.
func described(t *testing.T, req *http.Request, sent []byte, a *answer) {
	t.Helper()
	d := theDescription()
	if d.err != nil {
		t.Fatal(d.err)
	}
	asked := req.Clone(ctx)
	asked.URL.Path = req.URL.EscapedPath() // a slash in an id is no slash in the path
	route, params, err := d.router.FindRoute(asked)
	if err != nil {
		if a.status != http.StatusNotFound && a.status != http.StatusMethodNotAllowed {
			t.Errorf("%s: status %d, and it is not described: %v", a.what, a.status, err)
		}
		return
	}
	good := a.status < 300
	covered.Store(walked{route.Operation.OperationID, good}, true)
	options := &openapi3filter.Options{
		AuthenticationFunc: openapi3filter.NoopAuthenticationFunc, IncludeResponseStatus: true, SkipSettingDefaults: true,
	}
	again := req.Clone(ctx)
	again.Body = io.NopCloser(bytes.NewReader(sent))
	in := &openapi3filter.RequestValidationInput{Request: again, PathParams: params, Route: route, Options: options}
	if good {
		if err := openapi3filter.ValidateRequest(ctx, in); err != nil {
			t.Errorf("%s: the request is taken and not as described: %v", a.what, err)
		}
	}
	err = openapi3filter.ValidateResponse(ctx, &openapi3filter.ResponseValidationInput{
		RequestValidationInput: in, Status: a.status, Header: a.header, Options: options,
		Body: io.NopCloser(bytes.NewReader(a.body)),
	})
	if err != nil {
		t.Errorf("%s: status %d, the answer is not as described: %v\n%s", a.what, a.status, err, a.body)
	}
}

// Every route under /v1 is described, and what is described has a route.
func TestRoutesAreDescribed(t *testing.T) {
	d := theDescription()
	if d.err != nil {
		t.Fatal(d.err)
	}
	var want, got []string
	for path, item := range d.doc.Paths.Map() {
		for method := range item.Operations() {
			want = append(want, method+" "+path)
		}
	}
	for _, r := range newSite(t).routes() {
		if strings.HasPrefix(r.Path, "/v1/") {
			got = append(got, r.Method+" "+openPattern(r.Path))
		}
	}
	slices.Sort(want)
	slices.Sort(got)
	for _, r := range got {
		if !slices.Contains(want, r) {
			t.Errorf("%s is a route and not described", r)
		}
	}
	for _, r := range want {
		if !slices.Contains(got, r) {
			t.Errorf("%s is described and no route", r)
		}
	}
	if len(got) == 0 {
		t.Error("there are no routes")
	}
}

// openPattern writes a pattern of gin as OpenAPI does: /a/:id is /a/{id}.
func openPattern(p string) string {
	parts := strings.Split(p, "/")
	for i, s := range parts {
		if name, ok := strings.CutPrefix(s, ":"); ok {
			parts[i] = "{" + name + "}"
		}
	}
	return strings.Join(parts, "/")
}

// questions are posted because of what they carry, and write nothing.
var questions = map[string]bool{"/v1/read": true, "/v1/comparisons": true, "/v1/comparisons.xlsx": true}

// Every write takes a key, is answered 201, and everything may fail in the one
// way that problems are told.
func TestDescriptionKeepsItsRules(t *testing.T) {
	d := theDescription()
	if d.err != nil {
		t.Fatal(d.err)
	}
	ids := map[string]bool{}
	for path, item := range d.doc.Paths.Map() {
		for method, op := range item.Operations() {
			if ids[op.OperationID] || op.OperationID == "" {
				t.Errorf("%s %s: the id %q is not its own", method, path, op.OperationID)
			}
			ids[op.OperationID] = true
			if r := op.Responses.Default(); r == nil || r.Ref != "#/components/responses/Problem" {
				t.Errorf("%s %s: it does not say how it fails", method, path)
			}
			if method != http.MethodPost || questions[path] {
				continue
			}
			if p := op.Parameters.GetByInAndName("header", "Idempotency-Key"); p == nil || !p.Required {
				t.Errorf("%s %s: no key is required", method, path)
			}
			if op.Responses.Value("201") == nil {
				t.Errorf("%s %s: it is not said what is written", method, path)
			}
		}
	}
}
