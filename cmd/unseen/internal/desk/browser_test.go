//go:build browser

package desk

import (
	"compress/gzip"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// tab is a page of a headless Chromium on a desk.
type tab struct {
	t    *testing.T
	desk *Desk
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
	b := &tab{t: t, desk: d, ctx: ctx}
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
// frame of its own, and the frame to be no wider than what it stands in.
func (b *tab) fits(about string) {
	b.t.Helper()
	wide := run(b, chromedp.Evaluate[int]("document.documentElement.scrollWidth"))
	screen := run(b, chromedp.Evaluate[int]("document.documentElement.clientWidth"))
	assert.LessOrEqual(b.t, wide, screen, "%s: the page scrolls sideways", about)
	out := run(b, chromedp.Evaluate[[]string](`[...document.querySelectorAll(".scroll")].filter(f => f.getBoundingClientRect().right > f.parentNode.getBoundingClientRect().right + 1).map(f => f.getAttribute("aria-label"))`))
	assert.Empty(b.t, out, "%s: tables stick out", about)
}

// axe is the script of the accessibility checks, as kept for the report, whose
// test holds it to its checksum.
var axe = sync.OnceValues(func() (string, error) {
	f, err := os.Open("../page/testdata/axe-core/axe.min.js.gz")
	if err != nil {
		return "", err
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		return "", err
	}
	b, err := io.ReadAll(z)
	return string(b), err
})

// accessible holds what the page shows to the rules of axe-core, and in the dark,
// which changes colours alone, to those of colours.
func (b *tab) accessible(about string) {
	b.t.Helper()
	for _, x := range [][2]string{{"light", "{}"}, {"dark", `{ runOnly: ["cat.color"] }`}} {
		scheme, options := x[0], x[1]
		b.do(media(scheme))
		if !run(b, chromedp.Evaluate[bool]("!!window.axe")) {
			script, err := axe()
			require.NoError(b.t, err)
			run(b, chromedp.Evaluate[any](script+"; 0"))
		}
		found := run(b, chromedp.Evaluate[[]string](`axe.run(document, `+options+`).then(r => r.violations.flatMap(v => v.nodes.map(n => v.id + ": " + n.html.slice(0, 120) + " " + n.failureSummary)))`, chromedp.EvalAwaitPromise))
		assert.Empty(b.t, found, "%s, %s", about, scheme)
	}
	white := run(b, chromedp.Evaluate[[]string](`[...document.querySelectorAll("body, body *")].filter(e => getComputedStyle(e).backgroundColor === "rgb(255, 255, 255)").map(e => e.outerHTML.slice(0, 120))`))
	assert.Empty(b.t, white, "%s: white on a dark page", about)
	b.do(media("light"))
}

func media(scheme string) chromedp.Action[chromedp.Void] {
	return func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
		return chromedp.Void{}, err
	}
}

// look holds a view to fit the screen and to be accessible, and keeps a picture.
func (b *tab) look(name string) {
	b.t.Helper()
	// What is greyed while the next view is on its way is not what is judged.
	b.until(`!document.body.hasAttribute("data-busy") && [...document.querySelectorAll(".body, #sentence, #river")].every(e => getComputedStyle(e).opacity === "1")`)
	b.fits(name)
	b.accessible(name)
	b.shot(name)
}

func everyScreen(t *testing.T, f func(t *testing.T, name string, width, height int64)) {
	for _, s := range screens {
		t.Run(s.name, func(t *testing.T) { f(t, s.name, s.width, s.height) })
	}
}

func TestEveryPartInBrowser(t *testing.T) {
	everyScreen(t, func(t *testing.T, screen string, width, height int64) {
		b := openTab(t, hollin(t), width, height)
		b.visible("#part-answer .body")
		assert.Contains(t, b.text("#sentence"), "35.6")
		for _, part := range []string{"answer", "tables", "check", "trust", "plan"} {
			b.click("#head-" + part + " a")
			b.visible("#part-" + part + " .body")
			b.look(screen + "-" + part)
			if screen == "phone" {
				for _, other := range []int64{320, 768} {
					b.do(chromedp.EmulateViewport(other, height))
					b.fits(fmt.Sprint(part, " at ", other, " px"))
				}
				b.do(chromedp.EmulateViewport(width, height))
			}
		}
		b.do(chromedp.Navigate(b.at("/take")))
		b.visible("#part-take")
		b.look(screen + "-take")
		b.quiet()
	})
}

// at is the address of a path of the page.
func (b *tab) at(path string) string {
	return "http://" + b.desk.opt.Address + path
}

// The way of somebody new: an empty folder, three files dropped, what was
// understood confirmed, and the report taken away.
func TestNewcomerInBrowser(t *testing.T) {
	everyScreen(t, func(t *testing.T, screen string, width, height int64) {
		folder := t.TempDir()
		b := openTab(t, folder, width, height)
		b.visible("#part-tables .body")
		b.look(screen + "-new-1-empty")
		b.drop(map[string]string{"fish.csv": plain(t, "fish.csv"), "alder-ford.csv": plain(t, "arrays/alder-ford.csv.gz"), "lower river.csv": plain(t, "arrays/lower-river.csv.gz")})
		b.visible("#right")
		assert.Contains(t, b.text("#part-tables"), "lower river.csv")
		assert.Contains(t, b.text("#head-tables"), "needs you: is this how 3 tables are to be read?")
		b.look(screen + "-new-2-understood")
		// What is asked is answered where it is asked.
		b.do(chromedp.SetValue(chromedp.CSS(".asks input[name=time_zone]"), "Europe/Dublin"))
		b.click(".asks form:has(input[name=time_zone]) button")
		b.until(`document.querySelector("#table-1 > p")?.textContent.includes("Europe/Dublin")`)
		// A column that is wrong is seen to be, and put right.
		b.click("#table-1-columns summary")
		b.do(chromedp.SetValue(chromedp.CSS("#table-1-form select[name=column-site]"), "antenna"))
		b.click("#table-1-form > button")
		b.until(`[...document.querySelectorAll("#sites li")].some(l => l.dataset.site === "south")`)
		b.look(screen + "-new-3-wrong")
		b.click(`form[action="/undo"] button`)
		b.until(`![...document.querySelectorAll("#sites li")].some(l => l.dataset.site === "south")`)
		for _, i := range []string{"0", "1", "2"} {
			b.click("#table-" + i + "-right")
			b.until(`document.querySelector("#table-` + i + ` .badge").textContent === "as you said"`)
		}
		// Sites are dragged by their grips.
		b.drag(`#sites li[data-site="Tidehead"] .grip`, `#sites li[data-site="Scar Weir"] .grip`)
		b.until(`document.querySelector("#sites li:last-child").dataset.site === "Scar Weir"`)
		b.drag(`#sites li[data-site="Scar Weir"] .grip`, `#sites li[data-site="Tidehead"] .grip`)
		b.until(`document.querySelector("#sites li:last-child").dataset.site === "Tidehead"`)
		for i, km := range []string{"58", "36.6", "14.2", "0"} {
			b.do(chromedp.SendKeys(chromedp.CSS(fmt.Sprint("#km-", i)), km))
		}
		b.do(chromedp.KeyEvent(kb.Enter)) // as the button below
		b.until(`document.querySelector("#said p")?.textContent.includes("km 36.6")`)
		b.look(screen + "-new-4-sites")
		b.click("#right")
		b.until(`document.querySelector("#said p")?.textContent.includes("Written: study.toml")`)
		b.look(screen + "-new-5-written")
		b.click("#head-check a")
		b.visible(".findings")
		b.click("#head-answer a")
		b.visible("#part-answer .body")
		b.until(`document.querySelector("#sentence")?.textContent.includes("passed Scar Weir")`)
		b.look(screen + "-new-6-answer")
		b.click("#top a.button")
		b.visible("#part-take")
		report := run(b, chromedp.Evaluate[string](`fetch(document.querySelector('a[href^="/get/report.html"]').href).then(r => r.text())`, chromedp.EvalAwaitPromise))
		assert.Contains(t, report, "passed Scar Weir")
		assert.Regexp(t, `km +?= 36\.6`, studyText(t, folder))
		assert.Contains(t, studyText(t, folder), "# ?", "the proposal's comments are lost")
		b.quiet()
	})
}

// drag drags by the mouse from the middle of one element to above the middle of
// another.
func (b *tab) drag(from, to string) {
	b.t.Helper()
	at := func(selector string) [2]float64 {
		return run(b, chromedp.Evaluate[[2]float64](`(() => { const e = document.querySelector(`+strconv.Quote(selector)+`); e.scrollIntoView({ block: "center" }); const r = e.getBoundingClientRect(); return [r.left + r.width / 2, r.top + r.height / 2]; })()`))
	}
	at(from)
	end := at(to)
	start := run(b, chromedp.Evaluate[[2]float64](`(() => { const r = document.querySelector(`+strconv.Quote(from)+`).getBoundingClientRect(); return [r.left + r.width / 2, r.top + r.height / 2]; })()`))
	for _, e := range []struct {
		kind input.DispatchMouseEventType
		at   [2]float64
	}{{input.DispatchMouseEventTypeMousePressed, start}, {input.DispatchMouseEventTypeMouseMoved, [2]float64{end[0], (start[1] + end[1]) / 2}}, {input.DispatchMouseEventTypeMouseMoved, [2]float64{end[0], end[1] - 8}}, {input.DispatchMouseEventTypeMouseReleased, [2]float64{end[0], end[1] - 8}}} {
		b.do(chromedp.MouseEvent(e.kind, e.at[0], e.at[1], chromedp.ButtonLeft))
	}
}

// drop drops files on the page.
func (b *tab) drop(files map[string]string) {
	b.t.Helper()
	text, err := json.Marshal(files)
	require.NoError(b.t, err)
	run(b, chromedp.Evaluate[bool](`(() => {
  const d = new DataTransfer();
  for (const [name, text] of Object.entries(`+string(text)+`)) d.items.add(new File([text], name));
  return document.dispatchEvent(new DragEvent("drop", { dataTransfer: d, bubbles: true, cancelable: true }));
})()`))
}

// A remedy shows what it would do; done, it can be taken back.
func TestRemedyInBrowser(t *testing.T) {
	everyScreen(t, func(t *testing.T, screen string, width, height int64) {
		b := openTab(t, hollin(t), width, height)
		b.click("#head-check a")
		b.visible("#finding-turned_back")
		b.click(`#finding-turned_back a[href*="records="]`)
		b.until(`document.querySelectorAll("#drawer tbody tr").length === 3`)
		b.look(screen + "-records")
		b.click("#close-drawer")
		b.until(`document.querySelector("#drawer").hidden`)
		b.click(`#finding-turned_back a[href*="remedy="]`)
		b.visible("#do-0")
		assert.Contains(t, b.text("#drawer"), "Alder Ford: 71.6 → 71.5")
		b.look(screen + "-remedy")
		b.click("#do-0")
		b.until(`!document.querySelector("#finding-turned_back")`)
		b.click(`form[action="/undo"] button`)
		b.until(`!!document.querySelector("#finding-turned_back")`)
		b.quiet()
	})
}

// The model is changed by clicking and by typing; a fault is marked at its word.
func TestModelInBrowser(t *testing.T) {
	b := openTab(t, hollin(t), 1440, 900)
	b.visible("#model")
	b.click(`#model .chip a[href*="survival=reach"]:not([href*="cohort"])`)
	b.until(`document.querySelector("#terms-survival").value === "reach"`)
	b.click("#add-survival summary")
	b.click(`#add-survival a[href*="fork_length_mm"]`)
	b.until(`document.querySelector("#terms-survival").value === "reach + fork_length_mm"`)
	b.do(chromedp.Clear(chromedp.CSS("#terms-survival")), chromedp.SendKeys(chromedp.CSS("#terms-survival"), "reach + lenght\r"))
	b.until(`document.querySelector("mark")?.textContent === "lenght"`)
	assert.Equal(t, "reach + lenght", run(b, chromedp.Value(chromedp.CSS("#terms-survival"))), "what was typed is lost")
	b.look("model-fault")
	b.do(chromedp.NavigateBack())
	b.until(`document.querySelector("#terms-survival")?.value === "reach + fork_length_mm"`)
	b.quiet()
}

// What takes long says so, and can be stopped: the page shows what it showed.
func TestLongViewIsStoppedInBrowser(t *testing.T) {
	b := openTab(t, hollin(t), 390, 844)
	b.click("#head-season a")
	b.visible("#season-day")
	day := b.text("#season-name")
	run(b, chromedp.Evaluate[any](`window.fetch = (a, o) => new Promise((_, no) => o.signal.addEventListener("abort", () => no(new DOMException("", "AbortError")))); 0`))
	b.do(chromedp.Focus(chromedp.CSS("#season-day")), chromedp.KeyEvent(kb.ArrowRight))
	b.visible("#stop-wait")
	assert.NotEqual(t, day, b.text("#season-name"))
	b.fits("waiting")
	b.shot("phone-waiting")
	b.click("#stop-wait")
	b.until(`document.querySelector("#wait").hidden && !document.body.hasAttribute("aria-busy")`)
	assert.Equal(t, day, b.text("#season-name"))
	assert.Contains(t, b.text("#status"), "Stopped")
	b.quiet()
}

// The slider moves through the days of the season by arrow keys.
func TestSeasonInBrowser(t *testing.T) {
	everyScreen(t, func(t *testing.T, screen string, width, height int64) {
		b := openTab(t, hollin(t), width, height)
		b.click("#head-season a")
		b.visible("#season-day")
		assert.Equal(t, "26 April 2025", b.text("#season-name"))
		b.do(chromedp.Focus(chromedp.CSS("#season-day")), chromedp.KeyEvent(kb.ArrowRight))
		b.until(`document.querySelector("#season-said")?.textContent.includes("27 April 2025")`)
		assert.Equal(t, "27 April 2025", b.text("#season-name"))
		assert.Equal(t, "season-day", run(b, chromedp.Evaluate[string]("document.activeElement.id")), "the slider lost the keys")
		assert.Contains(t, run(b, chromedp.Location()), "n=24")
		b.look(screen + "-season")
		b.do(chromedp.KeyEvent(kb.Home))
		b.until(`document.querySelector("#season-name").textContent === "3 April 2025"`)
		b.look(screen + "-season-first")
		b.quiet()
	})
}

func TestFishInBrowser(t *testing.T) {
	everyScreen(t, func(t *testing.T, screen string, width, height int64) {
		b := openTab(t, hollin(t), width, height)
		b.do(chromedp.SendKeys(chromedp.CSS("#find-tag"), "3E7.098BCA5D8C\r"))
		b.visible("#figure-track")
		assert.Contains(t, b.text("#part-fish"), "999041000000908")
		assert.Contains(t, b.text("#part-fish"), "a sighting")
		b.look(screen + "-fish")
		b.quiet()
	})
}

// A bootstrap that is stopped half-way keeps what it made.
func TestBootstrapIsStoppedInBrowser(t *testing.T) {
	everyScreen(t, func(t *testing.T, screen string, width, height int64) {
		b := openTab(t, hollin(t), width, height)
		b.click("#head-trust a")
		b.visible("#start-bootstrap")
		b.do(chromedp.Clear(chromedp.CSS("#number-bootstrap")), chromedp.SendKeys(chromedp.CSS("#number-bootstrap"), "50000"))
		b.click("#start-bootstrap")
		b.visible("#stop-bootstrap")
		b.until(`+document.querySelector("#job-bar")?.value > 20`)
		b.look(screen + "-job")
		b.click("#stop-bootstrap")
		b.until(`document.querySelector("#work-bootstrap")?.textContent.includes("Stopped after")`)
		assert.Contains(t, b.text("#work-bootstrap"), "with intervals by these replicates")
		b.look(screen + "-trust-stopped")
		b.quiet()
	})
}
