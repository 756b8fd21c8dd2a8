package web_test

import (
	"context"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	cdpbrowser "github.com/chromedp/cdproto/browser"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

var screenshots = flag.String("screenshots", "", "a folder for pictures of the pages")

// patience is how often a test looks, with 50 ms in between, for what it waits
// for: a minute, so that it ends only where nothing will come.
const patience = 1200

// An action is a step in the browser.
type action = chromedp.Action[chromedp.Void]

// A browser is one window of Chromium with cookies of its own.
type browser struct {
	t    *testing.T
	ctx  context.Context
	site *site
	mu   sync.Mutex
	// wrong are errors that the page's script or its policy gave.
	wrong []string
}

// newBrowser opens a window with cookies of its own.
func newBrowser(t *testing.T, s *site) *browser {
	t.Helper()
	started, err := startChromium()
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := chromedp.NewContext(started, chromedp.WithNewBrowserContext())
	b := &browser{t: t, ctx: ctx, site: s}
	t.Cleanup(func() {
		_ = chromedp.Cancel(ctx)
		cancel()
	})
	// The first call makes the window, which lives as long as its context.
	if err := chromedp.Do(ctx, chromedp.Navigate("about:blank")); err != nil {
		t.Fatal(err)
	}
	go func() {
		for m, err := range chromedp.Console(ctx) {
			if err != nil {
				return
			}
			if m.Type == chromedp.ConsoleError || m.Type == chromedp.ConsoleException {
				b.mu.Lock()
				b.wrong = append(b.wrong, m.Text)
				b.mu.Unlock()
			}
		}
	}()
	return b
}

// ask runs an action within a time in which it surely ends.
func ask[T any](b *browser, a chromedp.Action[T]) T {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, 30*time.Second)
	defer cancel()
	v, err := chromedp.Run(ctx, a)
	if err != nil {
		look, stop := context.WithTimeout(b.ctx, 5*time.Second)
		defer stop()
		text, _ := chromedp.Run(look, chromedp.Text(chromedp.CSS("body")))
		b.t.Fatalf("%v\nthe page says:\n%s", err, text)
	}
	return v
}

func (b *browser) do(as ...action) {
	b.t.Helper()
	ask(b, chromedp.Steps(as...))
}

// find makes an action on what a selector finds: an XPath query, which begins
// with a slash, or a CSS selector.
func find(sel string, css func(chromedp.CSS) action, search func(chromedp.Search) action) action {
	if strings.HasPrefix(sel, "/") {
		return search(chromedp.Search(sel))
	}
	return css(chromedp.CSS(sel))
}

func click(sel string) action {
	return find(sel, func(s chromedp.CSS) action { return chromedp.Click(s, chromedp.NodeVisible) },
		func(s chromedp.Search) action { return chromedp.Click(s, chromedp.NodeVisible) })
}

// write types into a field.
func write(sel, text string) action {
	return find(sel, func(s chromedp.CSS) action { return chromedp.SendKeys(s, text) },
		func(s chromedp.Search) action { return chromedp.SendKeys(s, text) })
}

// set sets a field's value.
func set(sel, value string) action {
	return find(sel, func(s chromedp.CSS) action { return chromedp.SetValue(s, value) },
		func(s chromedp.Search) action { return chromedp.SetValue(s, value) })
}

// open goes to a path.
func (b *browser) open(path string) {
	b.t.Helper()
	b.do(chromedp.Navigate(b.site.url + path))
}

// leave runs actions that make the browser load another page, and waits for it.
func (b *browser) leave(as ...action) {
	b.t.Helper()
	ask(b, func(ctx context.Context, _ *chromedp.Target) (chromedp.Void, error) {
		_, err := chromedp.RunResponse(ctx, as...)
		return chromedp.Void{}, err
	})
}

// press clicks what a selector finds, which leads to another page.
func (b *browser) press(sel string) {
	b.t.Helper()
	b.leave(click(sel))
}

// key types a text as a keyboard scanner does, into whatever has the focus,
// and then Enter. The separator comes as Ctrl and ].
func (b *browser) key(text string) {
	b.t.Helper()
	var keys []action
	for i, part := range strings.Split(text, "\x1d") {
		if i > 0 {
			keys = append(keys, chromedp.KeyEvent("]", chromedp.KeyModifiers(chromedp.ModifierCtrl)))
		}
		keys = append(keys, chromedp.KeyEvent(part))
	}
	b.do(append(keys, chromedp.KeyEvent(kb.Enter))...)
}

// scan types a text and waits for the answer: another page, or other content
// in this one.
func (b *browser) scan(text string) {
	b.t.Helper()
	eval[any](b, `document.querySelector("main").dataset.old = "1"`)
	b.key(text)
	b.answered()
}

// act does something that is sent, and waits for the content that answers it.
func (b *browser) act(as ...action) {
	b.t.Helper()
	eval[any](b, `document.querySelector("main").dataset.old = "1"`)
	b.do(as...)
	b.answered()
}

// during does something while the service keeps its answers back, lets them go,
// and waits for the content of the first.
func (b *browser) during(f func()) {
	b.t.Helper()
	eval[any](b, `document.querySelector("main").dataset.old = "1"`)
	goOn := b.site.hold()
	f()
	goOn()
	b.answered()
}

// touch clicks what a selector finds, and waits for the answer.
func (b *browser) touch(sel string) {
	b.t.Helper()
	b.act(click(sel))
}

// answered waits until the content is another than the one marked as old.
func (b *browser) answered() {
	b.t.Helper()
	for range patience {
		ctx, cancel := context.WithTimeout(b.ctx, 5*time.Second)
		fresh, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`document.readyState === "complete" && document.querySelector("main") !== null && !document.querySelector("main").dataset.old`))
		cancel()
		if err == nil && fresh { // an error is a page that goes at this moment
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	b.t.Fatal("no answer came")
}

// signIn signs in and waits for the first page.
func (b *browser) signIn(user string) {
	b.t.Helper()
	b.open("/sign-in")
	b.signInHere(user)
}

// signInHere signs in on the sign-in page, and waits for the page that was
// asked for.
func (b *browser) signInHere(user string) {
	b.t.Helper()
	b.do(write("input[name=user]", user), write("input[name=password]", password))
	b.press(`//main//button[text()="Sign in"]`)
}

// text returns what an element says, as a person sees it.
func (b *browser) text(sel string) string {
	b.t.Helper()
	return strings.Join(strings.Fields(ask(b, chromedp.Text(chromedp.CSS(sel)))), " ")
}

// says fails the test unless an element says all of some words.
func (b *browser) says(sel string, words ...string) {
	b.t.Helper()
	got := b.text(sel)
	for _, w := range words {
		if !strings.Contains(strings.ToLower(got), strings.ToLower(w)) {
			b.t.Errorf("%s says %q, want it to say %q", sel, got, w)
		}
	}
}

// await waits until an element says all of some words.
func (b *browser) await(sel string, words ...string) {
	b.t.Helper()
	var got string
	for range patience {
		got = eval[string](b, `(document.querySelector("`+sel+`") || {innerText: ""}).innerText`)
		all := true
		for _, w := range words {
			all = all && strings.Contains(got, w)
		}
		if all {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	b.t.Fatalf("%s says %q, want it to say %q", sel, got, words)
}

// eval runs a script in the page.
func eval[T any](b *browser, script string) T {
	b.t.Helper()
	return ask(b, chromedp.Evaluate[T](script))
}

// size sets the window's.
func (b *browser) size(width, height int64) {
	b.t.Helper()
	b.do(chromedp.EmulateViewport(width, height))
}

// picture writes a picture of the whole page, where the flag asks for it.
func (b *browser) picture(name string) {
	b.t.Helper()
	if *screenshots == "" {
		return
	}
	png := ask(b, chromedp.FullScreenshot(100))
	if err := os.WriteFile(filepath.Join(*screenshots, name+".png"), png, 0o600); err != nil {
		b.t.Fatal(err)
	}
}

// download presses a link that hands over a file, and returns it.
func (b *browser) download(sel string) (name string, content []byte) {
	b.t.Helper()
	dir := b.t.TempDir()
	b.do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.CallBrowser(ctx, cdpbrowser.SetDownloadBehavior, cdpbrowser.SetDownloadBehaviorParams{
			Behavior: cdpbrowser.SetDownloadBehaviorBehaviorAllow, DownloadPath: dir, BrowserContextID: chromedp.FromContext(ctx).BrowserContextID,
		})
		return err
	}), click(sel))
	for range patience {
		files, err := os.ReadDir(dir)
		if err != nil {
			b.t.Fatal(err)
		}
		// A file has its own name once it is whole.
		if len(files) == 1 && strings.HasSuffix(files[0].Name(), ".xlsx") {
			content, err := os.ReadFile(filepath.Join(dir, files[0].Name()))
			if err != nil {
				b.t.Fatal(err)
			}
			return files[0].Name(), content
		}
		time.Sleep(50 * time.Millisecond)
	}
	b.t.Fatalf("no file came after %s", sel)
	return "", nil
}

// quiet fails the test if a page's script went wrong or its policy was broken.
func (b *browser) quiet() {
	b.t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, w := range b.wrong {
		if strings.Contains(w, "status of 422") {
			continue // a form that was refused, and the page says why
		}
		b.t.Errorf("in the page: %s", w)
	}
}
