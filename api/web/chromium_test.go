package web_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// chromium is where Debian's package puts it.
const chromium = "/usr/bin/chromium"

// startChromium starts the one Chromium that all tests share, each in a window
// with cookies of its own, and stopChromium ends it. It is not skipped where
// there is none: the pages are not tested then.
var (
	startChromium = sync.OnceValues(func() (ctx context.Context, err error) {
		if _, err := os.Stat(chromium); err != nil {
			return nil, fmt.Errorf("%w\nhint: the pages are tested in a browser; install Debian's package chromium (apt-get install chromium)", err)
		}
		dir, err := os.MkdirTemp("", "lotbook-browser-")
		if err != nil {
			return nil, err
		}
		alloc, cancelAlloc := chromedp.NewExecAllocator(
			context.Background(),
			chromedp.ExecPath(chromium), chromedp.NoFirstRun, chromedp.NoDefaultBrowserCheck, chromedp.NoSandbox, chromedp.Headless, chromedp.DisableGPU,
			chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-dev-shm-usage", true),
			chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true), chromedp.Flag("hide-scrollbars", true),
			chromedp.UserDataDir(dir), chromedp.WindowSize(1280, 900), chromedp.WSURLReadTimeout(time.Minute),
		)
		ctx, cancel := chromedp.NewContext(alloc)
		stopChromium = func() error {
			_ = chromedp.Cancel(ctx)
			cancel()
			cancelAlloc()
			// Chromium's children may write for a moment longer.
			var err error
			for range patience {
				if err = os.RemoveAll(dir); err == nil {
					break
				}
				time.Sleep(50 * time.Millisecond)
			}
			return err
		}
		return ctx, chromedp.Do(ctx, chromedp.Navigate("about:blank"))
	})
	stopChromium = func() error { return nil }
)

func TestMain(m *testing.M) {
	code := m.Run()
	if err := stopChromium(); err != nil {
		fmt.Fprintln(os.Stderr, errors.Join(errors.New("chromium's folder is left over"), err))
		code = 1
	}
	os.Exit(code)
}
