//go:build browser

package page

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/history/ingest"
)

// browser is a headless Chromium spoken to over its debugging pipe.
type browser struct {
	t       *testing.T
	to      *os.File
	session string
	next    int

	mu      sync.Mutex
	answers map[int]chan json.RawMessage
	// said is what the page complained of: console messages, exceptions,
	// requests refused.
	said   []string
	loaded chan struct{}
}

func startBrowser(t *testing.T) *browser {
	t.Helper()
	path, err := exec.LookPath("chromium")
	require.NoError(t, err, "the tests of the tag browser need Debian's package chromium")
	// The browser reads at 3 and writes at 4.
	inRead, inWrite, err := os.Pipe()
	require.NoError(t, err)
	outRead, outWrite, err := os.Pipe()
	require.NoError(t, err)
	cmd := exec.Command(path, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
		"--disable-background-networking", "--disable-component-update", "--disable-sync", "--hide-scrollbars",
		"--remote-debugging-pipe", "--user-data-dir="+t.TempDir(), "about:blank")
	cmd.ExtraFiles = []*os.File{inRead, outWrite}
	require.NoError(t, cmd.Start())
	inRead.Close()
	outWrite.Close()
	b := &browser{t: t, to: inWrite, answers: map[int]chan json.RawMessage{}, loaded: make(chan struct{}, 16)}
	done := make(chan struct{})
	go func() {
		defer close(done)
		b.listen(outRead)
	}()
	t.Cleanup(func() {
		b.send("Browser.close", nil)
		inWrite.Close()
		if cmd.Wait() != nil {
			cmd.Process.Kill()
		}
		outRead.Close()
		<-done
	})
	var target struct {
		ID string `json:"targetId"`
	}
	b.call("Target.createTarget", map[string]any{"url": "about:blank"}, &target)
	var attached struct {
		Session string `json:"sessionId"`
	}
	b.call("Target.attachToTarget", map[string]any{"targetId": target.ID, "flatten": true}, &attached)
	b.session = attached.Session
	for _, domain := range []string{"Page", "Runtime", "Log", "Network"} {
		b.call(domain+".enable", nil, nil)
	}
	return b
}

func (b *browser) listen(from *os.File) {
	r := bufio.NewReaderSize(from, 1<<20)
	for {
		line, err := r.ReadBytes(0)
		if err != nil {
			return
		}
		var m struct {
			ID     int             `json:"id"`
			Method string          `json:"method"`
			Params json.RawMessage `json:"params"`
			Result json.RawMessage `json:"result"`
			Error  json.RawMessage `json:"error"`
		}
		if json.Unmarshal(bytes.TrimRight(line, "\x00"), &m) != nil {
			continue
		}
		b.mu.Lock()
		switch {
		case m.ID != 0:
			if c := b.answers[m.ID]; c != nil {
				if m.Error != nil {
					m.Result = m.Error
				}
				c <- m.Result
				delete(b.answers, m.ID)
			}
		case m.Method == "Runtime.consoleAPICalled", m.Method == "Runtime.exceptionThrown", m.Method == "Log.entryAdded", m.Method == "Network.loadingFailed":
			b.said = append(b.said, m.Method+" "+string(m.Params))
		case m.Method == "Page.loadEventFired":
			b.loaded <- struct{}{}
		}
		b.mu.Unlock()
	}
}

func (b *browser) send(method string, params any) chan json.RawMessage {
	b.mu.Lock()
	b.next++
	id := b.next
	c := make(chan json.RawMessage, 1)
	b.answers[id] = c
	b.mu.Unlock()
	m := map[string]any{"id": id, "method": method}
	if params != nil {
		m["params"] = params
	}
	if b.session != "" && method != "Browser.close" {
		m["sessionId"] = b.session
	}
	data, err := json.Marshal(m)
	if err != nil {
		b.t.Fatal(err)
	}
	b.to.Write(append(data, 0))
	return c
}

func (b *browser) call(method string, params, result any) {
	b.t.Helper()
	select {
	case r := <-b.send(method, params):
		if result != nil {
			require.NoError(b.t, json.Unmarshal(r, result), "%s: %s", method, r)
		}
	case <-time.After(3 * time.Minute):
		b.t.Fatalf("%s: no answer", method)
	}
}

// eval runs an expression in the page and reads its value.
func (b *browser) eval(expression string, value any) {
	b.t.Helper()
	var r struct {
		Result struct {
			Value json.RawMessage `json:"value"`
		} `json:"result"`
		Exception json.RawMessage `json:"exceptionDetails"`
	}
	b.call("Runtime.evaluate", map[string]any{"expression": expression, "returnByValue": true, "awaitPromise": true, "userGesture": true}, &r)
	require.Nil(b.t, r.Exception, "%s: %s", expression, r.Exception)
	if value != nil {
		require.NoError(b.t, json.Unmarshal(r.Result.Value, value), expression)
	}
}

func (b *browser) open(path string) {
	b.t.Helper()
	b.call("Page.navigate", map[string]any{"url": "file://" + path}, nil)
	select {
	case <-b.loaded:
	case <-time.After(30 * time.Second):
		b.t.Fatal("the page does not load")
	}
}

// outside lists what reaches beyond the page's sides, save what scrolls in a
// frame of its own.
const outside = `(() => {
  const width = document.documentElement.clientWidth, out = [];
  if (document.documentElement.scrollWidth > width) out.push("the page is " + document.documentElement.scrollWidth + " wide in " + width);
  for (const e of document.querySelectorAll("body *")) {
    const r = e.getBoundingClientRect();
    if (r.width === 0 || e.closest(".skip, .unseen, svg *") || (e.closest(".scroll") && !e.matches(".scroll") && FRAMED)) continue;
    if (r.right > width + 1 || r.left < -1) out.push(e.tagName + " " + (e.id || e.className.baseVal || e.className) + " from " + r.left + " to " + r.right + ": " + e.textContent.slice(0, 40));
  }
  return out.slice(0, 5);
})()`

// cut lists texts of figures that leave their picture, as this browser sets
// them, and texts that run into each other.
const cut = `(() => {
  const out = [];
  for (const svg of document.querySelectorAll("svg")) {
    const box = svg.getBoundingClientRect();
    if (box.width === 0) continue;
    const name = svg.querySelector("title").textContent + ": ";
    const texts = [...svg.querySelectorAll("text")].map(t => ({ words: t.textContent, r: t.getBoundingClientRect() }));
    for (const { words, r } of texts) {
      if (r.left < box.left - 2 || r.right > box.right + 2 || r.top < box.top - 2 || r.bottom > box.bottom + 2) out.push(name + words + " leaves the picture");
    }
    // Line boxes are higher than their letters: by about a sixth above and below.
    texts.sort((a, b) => a.r.top - b.r.top);
    for (let i = 0; i < texts.length; i++) {
      for (let j = i + 1; j < texts.length && texts[j].r.top < texts[i].r.bottom; j++) {
        const a = texts[i].r, b = texts[j].r, slack = a.height / 3;
        if (Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > slack)
          out.push(name + texts[i].words + " runs into " + texts[j].words);
      }
    }
  }
  return out.slice(0, 8);
})()`

// small lists visible texts of figures set smaller than 10 CSS pixels.
const small = `(() => {
  const out = [];
  for (const svg of document.querySelectorAll("svg")) {
    const box = svg.getBoundingClientRect();
    if (box.width === 0) continue;
    const scale = box.width / svg.viewBox.baseVal.width;
    for (const t of svg.querySelectorAll("text")) {
      const size = parseFloat(t.getAttribute("font-size")) * scale;
      if (size < LEAST) out.push(t.textContent + " at " + size);
    }
  }
  return out.slice(0, 5);
})()`

var inBrowser map[string]*Content

// studies are those of the other tests, one with a single array, one whose last
// site rests on shared parameters, and one of 20 cohorts and 12 sites; they are
// made once.
func studies(t *testing.T) map[string]*Content {
	t.Helper()
	if inBrowser == nil {
		out := maps.Clone(pages(t))
		out["shared"] = content(t, shared(t), analysis.Choice{}, ingest.Options{})
		out["large"] = content(t, large(t), analysis.Choice{}, ingest.Options{})
		out["one array"] = content(t, oneArray(t), analysis.Choice{}, ingest.Options{})
		inBrowser = out
	}
	return inBrowser
}

func oneArray(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "h.csv"), []byte("cohort,Mill Lade,Tidehead,count\nearly,1,1,96\nearly,1,0,104\nlate,1,1,64\nlate,1,0,136\n"), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "s.toml"), []byte("title = \"One array below the trap\"\n[histories]\nfile = \"h.csv\"\ncohort = \"cohort\"\n"+
		"[[site]]\nname = \"Mill Lade\"\nkm = 20\n[[site]]\nname = \"Tidehead\"\nkm = 0\n"), 0o644))
	return filepath.Join(dir, "s.toml")
}

func (b *browser) look(media, scheme string, width, height int) {
	b.t.Helper()
	b.call("Emulation.setDeviceMetricsOverride", map[string]any{"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 500}, nil)
	b.call("Emulation.setEmulatedMedia", map[string]any{"media": media, "features": []map[string]any{{"name": "prefers-color-scheme", "value": scheme}}}, nil)
}

func TestInBrowser(t *testing.T) {
	b := startBrowser(t)
	axe := axeCore(t)
	shots := os.Getenv("UNSEEN_SHOTS") // a folder to keep pictures in
	for name, c := range studies(t) {
		path := filepath.Join(t.TempDir(), strings.ReplaceAll(name, " ", "-")+".html")
		require.NoError(t, os.WriteFile(path, []byte(written(t, c)), 0o644))
		for _, screen := range []struct {
			name          string
			width, height int
			media, scheme string
			least         string // the smallest text of a figure, in CSS pixels
		}{
			{"small phone", 360, 740, "screen", "light", "10"},
			{"phone", 390, 844, "screen", "light", "10"},
			{"tablet", 768, 1024, "screen", "light", "11"},
			{"desktop", 1440, 900, "screen", "light", "11"},
			{"dark desktop", 1440, 900, "screen", "dark", "11"},
			{"A4", 680, 1009, "print", "light", "9"},    // 210 × 297 mm less margins of 15 mm, 96 dots to the inch
			{"Letter", 703, 943, "print", "light", "9"}, // 8.5 × 11 inches less the same
		} {
			about := name + " on " + screen.name
			b.look(screen.media, screen.scheme, screen.width, screen.height)
			b.open(path)
			framed := "true"
			if screen.media == "print" {
				framed = "false" // paper does not scroll
			}
			var found []string
			b.eval("const FRAMED = "+framed+"; "+outside, &found)
			assert.Empty(t, found, "%s: out of the page", about)
			b.eval(cut, &found)
			assert.Empty(t, found, "%s: texts of figures", about)
			b.eval("const LEAST = "+screen.least+"; "+small, &found)
			assert.Empty(t, found, "%s: too small to read", about)
			var shown int
			b.eval(`[...document.querySelectorAll("figure svg")].filter(s => s.getBoundingClientRect().width > 0).length`, &shown)
			assert.Equal(t, len(c.Figures()), shown, "%s: each figure once", about)
			b.eval(`[...document.querySelectorAll("button.copy")].filter(s => s.getBoundingClientRect().width > 0).length`, &shown)
			if screen.media == "print" {
				assert.Zero(t, shown, "%s: buttons on paper", about)
			} else {
				assert.Positive(t, shown, "%s: the script did not show the buttons", about)
				b.hints(about)
			}
			if screen.name == "desktop" {
				b.copies(about)
			}
			if screen.name == "phone" || strings.Contains(screen.name, "desktop") && name != "large" {
				b.accessible(about, axe, screen.scheme)
			}
			// The answer and the figure stand on the first page or screen.
			var bottom float64
			b.eval(`document.querySelector("#answer figure").getBoundingClientRect().bottom`, &bottom)
			if screen.media == "print" {
				assert.Less(t, bottom, float64(screen.height), "%s: the first figure is not on the first page", about)
			}
			if shots != "" {
				b.shoot(filepath.Join(shots, strings.ReplaceAll(about, " ", "-")+".png"))
			}
		}
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	assert.Empty(t, b.said, "the browser complains")
}

// hints looks whether the line on scrolling stands over those tables that do
// not fit, and over no others; and whether the names of rows stay.
func (b *browser) hints(about string) {
	b.t.Helper()
	var wrong []string
	b.eval(`[...document.querySelectorAll(".scroll")].filter(f => f.clientWidth > 0 && (f.scrollWidth > f.clientWidth + 1) === f.previousElementSibling.hidden).map(f => f.getAttribute("aria-label"))`, &wrong)
	assert.Empty(b.t, wrong, "%s: the line on scrolling", about)
	b.eval(`[...document.querySelectorAll(".scroll")].filter(f => f.scrollWidth > f.clientWidth + 1).filter(f => {
  const cell = f.querySelector("tbody .k, tbody .k1");
  if (!cell) return false;
  f.scrollLeft = 60;
  const stays = Math.abs(cell.getBoundingClientRect().left - f.getBoundingClientRect().left) < 1;
  f.scrollLeft = 0;
  return !stays;
}).map(f => f.getAttribute("aria-label"))`, &wrong)
	assert.Empty(b.t, wrong, "%s: the names of rows scroll away", about)
	b.eval(`[...document.querySelectorAll(".k, .k1, .k2")].filter(c => c.offsetWidth > 0).flatMap(c => [...c.childNodes]).filter(n => n.nodeType === 3).flatMap(n => [...n.data.matchAll(/[^\s\/-]+/g)].filter(m => {
  const r = document.createRange();
  r.setStart(n, m.index);
  r.setEnd(n, m.index + m[0].length);
  return r.getClientRects().length > 1;
}).map(m => m[0]))`, &wrong)
	assert.Empty(b.t, wrong, "%s: words that are broken", about)
}

// axeCore is the script of the accessibility checks; see its SOURCE.md.
func axeCore(t *testing.T) string {
	t.Helper()
	f, err := os.Open("testdata/axe-core/axe.min.js.gz")
	require.NoError(t, err)
	defer f.Close()
	z, err := gzip.NewReader(f)
	require.NoError(t, err)
	script, err := io.ReadAll(z)
	require.NoError(t, err)
	require.Equal(t, "29348999450cdf2849a8e70b7912fc2da85a849da39c0d0d5394f51d4a9ed95c", fmt.Sprintf("%x", sha256.Sum256(script)))
	return string(script)
}

// accessible runs axe-core's rules over the page; in the dark, which changes colours
// alone, those of colours.
func (b *browser) accessible(about, axe, scheme string) {
	b.t.Helper()
	b.eval(axe+"; 1", nil)
	var r struct {
		Found  []string `json:"found"`
		Passed int      `json:"passed"`
	}
	options, least := `resultTypes: ["violations"]`, 20
	if scheme == "dark" {
		options, least = options+`, runOnly: ["cat.color"]`, 0
	}
	b.eval(`axe.run(document, { `+options+` }).then(r => ({ passed: r.passes.length,
  found: r.violations.map(v => v.id + ": " + v.help + ": " + v.nodes.slice(0, 3).map(n => n.html.slice(0, 150)).join(" | ")) }))`, &r)
	assert.Empty(b.t, r.Found, "%s: axe-core", about)
	assert.Greater(b.t, r.Passed, least, "%s: hardly any rule applied", about)
}

// copies presses a button and looks at what it put on the clipboard.
func (b *browser) copies(about string) {
	var want, got string
	b.eval(`document.querySelector("table").dataset.tsv + "\n" + document.querySelector("tbody tr").dataset.tsv`, &want)
	b.eval(`new Promise(done => {
  document.addEventListener("copy", e => setTimeout(() => done(window.getSelection().toString() || document.activeElement.value || ""), 0), { once: true });
  Object.defineProperty(navigator, "clipboard", { value: { writeText: text => { done(text); return Promise.resolve(); } }, configurable: true });
  document.querySelector("button.copy").click();
})`, &got)
	assert.Contains(b.t, got, want, "%s: what is copied", about)
}

func (b *browser) shoot(path string) {
	var shot struct {
		Data string `json:"data"`
	}
	b.call("Page.captureScreenshot", map[string]any{"captureBeyondViewport": true, "format": "png"}, &shot)
	data, err := base64.StdEncoding.DecodeString(shot.Data)
	require.NoError(b.t, err)
	require.NoError(b.t, os.WriteFile(path, data, 0o644))
}
