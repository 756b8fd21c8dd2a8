package web_test

import (
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"strings"
	"testing"
)

// A client is a browser without a screen or script: it holds cookies, and shows
// where it is sent without going there.
type client struct {
	t    *testing.T
	site *site
	http *http.Client
}

type answer struct {
	status int
	header http.Header
	body   string
}

func newClient(t *testing.T, s *site, user string) *client {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	c := &client{t, s, &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
	if user != "" {
		if a := c.post("/sign-in", url.Values{"user": {user}, "password": {password}}); a.status != http.StatusSeeOther {
			t.Fatalf("signing in as %s: %d\n%s", user, a.status, a.body)
		}
	}
	return c
}

func (c *client) send(req *http.Request, err error) answer {
	c.t.Helper()
	if err != nil {
		c.t.Fatal(err)
	}
	res, err := c.http.Do(req)
	if err != nil {
		c.t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		c.t.Fatal(err)
	}
	return answer{res.StatusCode, res.Header, string(body)}
}

func (c *client) get(path string) answer {
	c.t.Helper()
	return c.send(http.NewRequest(http.MethodGet, c.site.url+path, nil))
}

func (c *client) post(path string, form url.Values) answer {
	c.t.Helper()
	req, err := http.NewRequest(http.MethodPost, c.site.url+path, strings.NewReader(form.Encode()))
	if err == nil {
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		req.Header.Set("Origin", c.site.url)
	}
	return c.send(req, err)
}

var keyField = regexp.MustCompile(`name="key" value="([^"]+)"`)

// keys returns the keys of the forms of a page.
func (a *answer) keys() []string {
	var keys []string
	for _, m := range keyField.FindAllStringSubmatch(a.body, -1) {
		keys = append(keys, m[1])
	}
	return keys
}

func (c *client) says(what string, a answer, status int, words ...string) {
	c.t.Helper()
	if a.status != status {
		c.t.Errorf("%s: status %d, want %d", what, a.status, status)
	}
	for _, w := range words {
		if !strings.Contains(a.body, w) {
			c.t.Errorf("%s: the page does not say %q:\n%s", what, w, a.body)
		}
	}
}
