//go:build browser

package desk

import (
	"context"
	"fmt"
	"net/http/httptest"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/demo"
)

// tab is a page of a headless Chromium on a desk.
type tab struct {
	t    *testing.T
	ctx  context.Context
	mu   sync.Mutex
	said []string // what the browser complained of
}

// screens are a phone's and a laptop's.
var screens = []struct {
	name          string
	width, height int64
}{{"phone", 390, 844}, {"laptop", 1440, 900}}

// openTab serves a folder and opens its page.
func openTab(t *testing.T, folder string, width, height int64) *tab {
	t.Helper()
	d, _ := serve(t, folder)
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.NoSandbox, chromedp.Flag("disable-quic", true))
	alloc, end := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(end)
	ctx, end := chromedp.NewContext(alloc)
	t.Cleanup(end)
	b := &tab{t: t, ctx: ctx}
	require.NoError(t, chromedp.Listen(ctx, func(e any) {
		b.mu.Lock()
		defer b.mu.Unlock()
		switch e := e.(type) {
		case *runtime.EventExceptionThrown:
			b.said = append(b.said, fmt.Sprint(e.ExceptionDetails))
		case *log.EventEntryAdded:
			b.said = append(b.said, e.Entry.Text+" "+fmt.Sprint(e.Entry.URL))
		case *runtime.EventConsoleAPICalled:
			b.said = append(b.said, fmt.Sprint(e.Type, e.Args))
		}
	}))
	b.do(chromedp.EmulateViewport(width, height), chromedp.Navigate(d.Address()))
	b.visible("#work")
	return b
}

// serve serves a folder until the test ends.
func serve(t *testing.T, folder string) (*Desk, string) {
	t.Helper()
	server := httptest.NewUnstartedServer(nil)
	d, err := New(t.Context(), Options{Folder: folder, Address: server.Listener.Addr().String(), Version: "test"})
	require.NoError(t, err)
	server.Config.Handler = d
	server.Start()
	t.Cleanup(func() { d.Close(); server.Close() })
	return d, server.URL
}

func (b *tab) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, end := context.WithTimeout(b.ctx, 30*time.Second)
	defer end()
	require.NoError(b.t, chromedp.Do(ctx, steps...))
}

func run[T any](b *tab, a chromedp.Action[T]) T {
	b.t.Helper()
	ctx, end := context.WithTimeout(b.ctx, 30*time.Second)
	defer end()
	v, err := chromedp.Run(ctx, a)
	require.NoError(b.t, err)
	return v
}

func (b *tab) visible(selector string) {
	b.t.Helper()
	b.do(chromedp.WaitVisible(chromedp.CSS(selector)))
}
func (b *tab) click(selector string) { b.t.Helper(); b.do(chromedp.Click(chromedp.CSS(selector))) }
func (b *tab) text(selector string) string {
	b.t.Helper()
	return run(b, chromedp.Text(chromedp.CSS(selector)))
}

// until waits for an expression to be true.
func (b *tab) until(expression string) {
	b.t.Helper()
	run(b, chromedp.Poll[bool](expression))
}

// shot keeps a picture of the page where a folder for them is named.
func (b *tab) shot(name string) {
	b.t.Helper()
	if dir := os.Getenv("UNSEEN_SHOTS"); dir != "" {
		require.NoError(b.t, os.WriteFile(filepath.Join(dir, name+".png"), run(b, chromedp.FullScreenshot(100)), 0o644))
	}
}

// quiet holds the browser to have had nothing to complain of.
func (b *tab) quiet() {
	b.t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	assert.Empty(b.t, b.said, "the browser complains")
}

// fits holds the page to be no wider than the screen, but for what scrolls in a
// frame of its own.
func (b *tab) fits(about string) {
	b.t.Helper()
	wide := run(b, chromedp.Evaluate[int]("document.documentElement.scrollWidth"))
	screen := run(b, chromedp.Evaluate[int]("document.documentElement.clientWidth"))
	assert.LessOrEqual(b.t, wide, screen, "%s: the page scrolls sideways", about)
}

func TestDemoInBrowser(t *testing.T) {
	for _, s := range screens {
		t.Run(s.name, func(t *testing.T) {
			folder := t.TempDir()
			require.NoError(t, demo.Write(folder, atomicfile.Rule{}))
			b := openTab(t, folder, s.width, s.height)
			b.visible("#part-answer .body")
			assert.Contains(t, b.text("#sentence"), "35.6")
			for _, part := range []string{"answer", "tables", "check", "trust", "season", "plan"} {
				b.click("#head-" + part + " a")
				b.visible("#part-" + part + " .body")
				b.fits(part)
				b.shot(s.name + "-" + part)
			}
			b.quiet()
		})
	}
}
