//go:build browser

package page

import (
	"bufio"
	"bytes"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
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
	case <-time.After(30 * time.Second):
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
// them, and texts that cross.
const cut = `(() => {
  const out = [];
  for (const svg of document.querySelectorAll("svg")) {
    const box = svg.getBoundingClientRect();
    if (box.width === 0) continue;
    for (const t of svg.querySelectorAll("text")) {
      const r = t.getBoundingClientRect();
      if (r.left < box.left - 2 || r.right > box.right + 2 || r.top < box.top - 2 || r.bottom > box.bottom + 2) out.push(svg.querySelector("title").textContent + ": " + t.textContent);
    }
  }
  return out;
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

func TestInBrowser(t *testing.T) {
	b := startBrowser(t)
	shots := os.Getenv("UNSEEN_SHOTS") // a folder to keep pictures in
	for name, c := range pages(t) {
		path := filepath.Join(t.TempDir(), name+".html")
		require.NoError(t, os.WriteFile(path, []byte(written(t, c)), 0o644))
		for _, screen := range []struct {
			name          string
			width, height int
			media         string
			least         string // the smallest text of a figure, in CSS pixels
		}{
			{"phone", 360, 740, "screen", "10"},
			{"laptop", 1366, 768, "screen", "11"},
			{"A4", 680, 1009, "print", "9"},    // 210 × 297 mm less margins of 15 mm, 96 dots to the inch
			{"Letter", 703, 943, "print", "9"}, // 8.5 × 11 inches less the same
		} {
			about := name + " on " + screen.name
			b.call("Emulation.setDeviceMetricsOverride", map[string]any{"width": screen.width, "height": screen.height, "deviceScaleFactor": 1, "mobile": screen.name == "phone"}, nil)
			b.call("Emulation.setEmulatedMedia", map[string]any{"media": screen.media}, nil)
			b.open(path)
			framed := "true"
			if screen.media == "print" {
				framed = "false" // paper does not scroll
			}
			var found []string
			b.eval("const FRAMED = "+framed+"; "+outside, &found)
			assert.Empty(t, found, "%s: out of the page", about)
			b.eval(cut, &found)
			assert.Empty(t, found, "%s: out of the figure", about)
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
			}
			if screen.name == "laptop" {
				b.copies(about)
			}
			// The answer and the figure stand on the first page or screen.
			var bottom float64
			b.eval(`document.querySelector("#answer figure").getBoundingClientRect().bottom`, &bottom)
			if screen.media == "print" {
				assert.Less(t, bottom, float64(screen.height), "%s: the first figure is not on the first page", about)
			}
			if shots != "" {
				b.shoot(filepath.Join(shots, fmt.Sprintf("%s-%s.png", name, screen.name)))
			}
		}
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	assert.Empty(t, b.said, "the browser complains")
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
