package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/gin-gonic/gin"

	"lotbook/api"
	"lotbook/api/auth"
	"lotbook/api/web"
	"lotbook/inventory"
	"lotbook/inventory/account"
	"lotbook/inventory/boltstore"
	"lotbook/trace"
	"lotbook/trace/notice"
)

// Invented GTINs with right check digits, in the range that GS1 keeps for
// documentation (0950…); the pictures in reading/testdata carry two of them.
const (
	gtinDialyzer  = "09506000100012"
	gtinBloodline = "09506000100029"
	gtinAcid      = "09506000100036"
	gtinAcid3K    = "09506000100043"
	gtinBicarb    = "09506000100050"
	gtinNeedle    = "09506000100067"
	gtinNeedleBox = "19506000100064"
	gtinSaline    = "09506000100074"
)

var ctx = context.Background()

// A site is the service over a store of its own, with a user of each role,
// called like the role.
type site struct {
	t        *testing.T
	book     *trace.Book
	accounts *account.Accounts
	handler  http.Handler
	server   *httptest.Server
	tokens   map[account.Role]string
	now      atomic.Int64
	keys     atomic.Int64
	log      logBuffer
	// twice has every write sent a second time and compared; repeated are the
	// operations of those.
	twice    bool
	repeated map[string]bool
	// collected takes the good writes, by address, if it is there.
	collected map[string]*http.Request
}

// logBuffer takes what is logged.
type logBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *logBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *logBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

func (s *site) clock() time.Time { return time.Unix(0, s.now.Load()).UTC() }

func (s *site) pass(d time.Duration) { s.now.Add(int64(d)) }

func registry() *inventory.Registry {
	return inventory.NewRegistry(inventory.Events(), trace.Events(), notice.Events(), account.Events())
}

// passwords are those of the users who need one: the quality officer signs.
var passwords = map[account.Role]string{account.Quality: "an invented long password"}

// newSite opens an empty store on 2 March 2026 at 06:00 UTC. change may change
// what the service works with.
func newSite(t *testing.T, change ...func(*api.Deps)) *site {
	t.Helper()
	s := &site{t: t, tokens: map[account.Role]string{}, repeated: map[string]bool{}}
	s.now.Store(time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC).UnixNano())
	dir := t.TempDir()
	store, err := boltstore.Open(filepath.Join(dir, "store"), boltstore.Options{Clock: s.clock, NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	reg := registry()
	s.book = trace.NewBook(inventory.NewBook(store, reg, s.clock))
	settings := account.DefaultSettings()
	settings.Hash = account.Params{Memory: 64, Passes: 1, Lanes: 1}
	s.accounts = account.New(store, reg, s.clock, settings)
	console := inventory.Call{Actor: string(account.Console)}
	for _, role := range account.Roles() {
		if _, err := s.accounts.Add(ctx, console, account.NewUser{ID: account.UserID(role), Name: "The " + string(role), Role: role}, passwords[role]); err != nil {
			t.Fatal(err)
		}
		is, err := s.accounts.IssueToken(ctx, console, account.NewToken{User: account.UserID(role), Label: "test"})
		if err != nil {
			t.Fatal(err)
		}
		s.tokens[role] = is.Secret
	}
	deps := api.Deps{
		Book: s.book, Accounts: s.accounts, Version: "0.0-test", TempDir: filepath.Join(dir, "temp"),
		Log: slog.New(slog.NewJSONHandler(&s.log, &slog.HandlerOptions{Level: slog.LevelDebug})),
		Pages: func(a *auth.Auth) (api.Pages, error) {
			return web.New(web.Deps{Book: s.book, Auth: a, TempDir: filepath.Join(dir, "temp")})
		},
	}
	for _, fn := range change {
		fn(&deps)
	}
	if s.handler, err = api.New(deps); err != nil {
		t.Fatal(err)
	}
	s.server = httptest.NewServer(s.handler)
	t.Cleanup(func() {
		s.server.Close()
		if err := store.Close(); err != nil {
			t.Error(err)
		}
		// Every row follows from the journal, whatever the test did.
		report, err := boltstore.Verify(ctx, filepath.Join(dir, "store"), boltstore.VerifyOptions{Project: reg.Project, TempDir: dir})
		if err == nil {
			err = report.Err()
		}
		if err != nil {
			t.Errorf("verify: %v", err)
		}
	})
	return s
}

func (s *site) routes() gin.RoutesInfo { return s.handler.(*gin.Engine).Routes() }

// An answer is a response, read whole.
type answer struct {
	t      *testing.T
	what   string
	status int
	header http.Header
	body   []byte
}

// An option changes a request.
type option func(*http.Request)

func withHeader(name, value string) option {
	return func(r *http.Request) { r.Header.Set(name, value) }
}

func without(name string) option { return func(r *http.Request) { r.Header.Del(name) } }

func withKey(key string) option { return withHeader("Idempotency-Key", key) }

// raw is a body of a media type.
type raw struct {
	mediaType string
	body      []byte
}

// do sends a request as a user of a role, with a new key if it writes. body is
// nil, a raw, or something that is sent as JSON.
func (s *site) do(role account.Role, method, path string, body any, options ...option) *answer {
	s.t.Helper()
	req := s.request(role, method, path, body, options...)
	return s.send(req)
}

func (s *site) request(role account.Role, method, path string, body any, options ...option) *http.Request {
	s.t.Helper()
	var r io.Reader
	mediaType := ""
	switch b := body.(type) {
	case nil:
	case raw:
		r, mediaType = bytes.NewReader(b.body), b.mediaType
	case string:
		r, mediaType = strings.NewReader(b), "application/json"
	default:
		doc, err := json.Marshal(b)
		if err != nil {
			s.t.Fatal(err)
		}
		r, mediaType = bytes.NewReader(doc), "application/json"
	}
	req, err := http.NewRequestWithContext(ctx, method, s.server.URL+path, r)
	if err != nil {
		s.t.Fatal(err)
	}
	if mediaType != "" {
		req.Header.Set("Content-Type", mediaType)
	}
	if role != "" {
		req.Header.Set("Authorization", "Bearer "+s.tokens[role])
	}
	if method == http.MethodPost {
		req.Header.Set("Idempotency-Key", fmt.Sprintf("key-%d", s.keys.Add(1)))
	}
	for _, o := range options {
		o(req)
	}
	return req
}

// send sends a request and, if the fixture is told to, a write twice.
func (s *site) send(req *http.Request) *answer {
	s.t.Helper()
	a := s.plain(req)
	if s.twice && a.status == http.StatusCreated {
		s.again(req, a)
	}
	if s.collected != nil && a.status == http.StatusCreated && req.Header.Get("Content-Type") == "application/json" {
		s.collected[req.URL.Path] = req
	}
	return a
}

// plain sends a request once. Its body can be sent again.
func (s *site) plain(req *http.Request) *answer {
	s.t.Helper()
	what := req.Method + " " + req.URL.RequestURI()
	var sent []byte
	if req.Body != nil {
		var err error
		if sent, err = io.ReadAll(req.Body); err != nil {
			s.t.Fatal(err)
		}
		req.Body = io.NopCloser(bytes.NewReader(sent))
	}
	res, err := s.server.Client().Do(req)
	if err != nil {
		s.t.Fatalf("%s: %v", what, err)
	}
	defer func() { _ = res.Body.Close() }()
	if sent != nil {
		req.Body = io.NopCloser(bytes.NewReader(sent))
	}
	got, err := io.ReadAll(res.Body)
	if err != nil {
		s.t.Fatalf("%s: %v", what, err)
	}
	a := &answer{t: s.t, what: what, status: res.StatusCode, header: res.Header, body: got}
	if strings.HasPrefix(req.URL.Path, "/v1/") {
		described(s.t, req, sent, a)
	}
	return a
}

// bodyOf returns the body of a request that was sent.
func bodyOf(t *testing.T, req *http.Request) []byte {
	t.Helper()
	b, err := io.ReadAll(req.Body)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// want ends the test unless the status is the one expected.
func (a *answer) want(status int) *answer {
	a.t.Helper()
	if a.status != status {
		a.t.Fatalf("%s: status %d, want %d: %s", a.what, a.status, status, a.body)
	}
	return a
}

// problem checks that the answer is a problem of a status and a code.
func (a *answer) problem(status int, code string) *answer {
	a.t.Helper()
	a.want(status)
	if got := a.header.Get("Content-Type"); got != "application/problem+json" {
		a.t.Errorf("%s: Content-Type %q", a.what, got)
	}
	if got := a.text("code"); got != code {
		a.t.Errorf("%s: code %q, want %q: %s", a.what, got, code, a.body)
	}
	if a.at("status") != float64(status) || a.text("type") != "about:blank" || a.text("title") != http.StatusText(status) ||
		a.text("detail") == "" || a.text("request_id") != a.header.Get("X-Request-Id") {
		a.t.Errorf("%s: not as RFC 9457 has it: %s", a.what, a.body)
	}
	return a
}

// field checks which member a problem is about.
func (a *answer) field(want string) {
	a.t.Helper()
	if got := a.text("field"); got != want {
		a.t.Errorf("%s: it is about %q, want %q: %s", a.what, got, want, a.body)
	}
}

// at returns what stands at a path of member names and indexes, nil if there
// is nothing.
func (a *answer) at(path ...any) any {
	a.t.Helper()
	var v any
	if err := json.Unmarshal(a.body, &v); err != nil {
		a.t.Fatalf("%s: %v: %s", a.what, err, a.body)
	}
	for _, p := range path {
		switch p := p.(type) {
		case string:
			m, ok := v.(map[string]any)
			if !ok {
				return nil
			}
			v = m[p]
		case int:
			l, ok := v.([]any)
			if !ok || p >= len(l) {
				return nil
			}
			v = l[p]
		}
	}
	return v
}

func (a *answer) text(path ...any) string {
	a.t.Helper()
	s, _ := a.at(path...).(string)
	return s
}

func (a *answer) number(path ...any) int64 {
	a.t.Helper()
	n, ok := a.at(path...).(float64)
	if !ok {
		a.t.Fatalf("%s: there is no number at %v: %s", a.what, path, a.body)
	}
	return int64(n)
}

func (a *answer) list(path ...any) []any {
	a.t.Helper()
	l, _ := a.at(path...).([]any)
	return l
}

// texts collects a member of each thing in a list.
func (a *answer) texts(member string, path ...any) []string {
	a.t.Helper()
	var out []string
	for i := range a.list(path...) {
		out = append(out, a.text(append(append([]any{}, path...), i, member)...))
	}
	return out
}
