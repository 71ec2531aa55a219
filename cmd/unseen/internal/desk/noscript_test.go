package desk

import (
	"bytes"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
)

// reader is a browser without scripts: it knows links and forms, and what is
// neither it cannot do.
type reader struct {
	t       *testing.T
	client  *http.Client
	address string
	page    *html.Node
	text    string
}

func newReader(t *testing.T, folder string) *reader {
	t.Helper()
	d, address := serve(t, folder)
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	r := &reader{t: t, client: &http.Client{Jar: jar}, address: address}
	answer, err := r.client.Get(d.Address()) // the door leads on by itself
	require.NoError(t, err)
	answer.Body.Close()
	r.open("/")
	return r
}

func (r *reader) open(path string) {
	r.t.Helper()
	answer, err := r.client.Get(r.address + path)
	require.NoError(r.t, err)
	r.take(answer)
}

func (r *reader) take(answer *http.Response) {
	r.t.Helper()
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	require.NoError(r.t, err)
	require.Equal(r.t, http.StatusOK, answer.StatusCode, string(body))
	r.page, err = html.Parse(bytes.NewReader(body))
	require.NoError(r.t, err)
	r.text = strings.ReplaceAll(words(r.page), "\u00a0", " ")
}

func words(n *html.Node) (out string) {
	for d := range n.Descendants() {
		if d.Type == html.TextNode {
			out += d.Data
		}
	}
	return out
}

func attr(n *html.Node, key string) (value string, ok bool) {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val, true
		}
	}
	return "", false
}

// find is the first element of a kind that matches.
func (r *reader) find(kind, about string, match func(*html.Node) bool) *html.Node {
	r.t.Helper()
	for n := range r.page.Descendants() {
		if n.Type == html.ElementNode && n.Data == kind && match(n) {
			return n
		}
	}
	require.FailNow(r.t, "there is no "+kind+" "+about, r.text)
	return nil
}

// follow goes where a link with such words leads.
func (r *reader) follow(called string) {
	r.t.Helper()
	a := r.find("a", called, func(n *html.Node) bool { return strings.Contains(words(n), called) })
	href, _ := attr(a, "href")
	r.open(href)
}

// press sends the form of a button with such words, with some fields written in.
func (r *reader) press(called string, fields ...string) {
	r.t.Helper()
	wanted := url.Values{}
	for i := 0; i+1 < len(fields); i += 2 {
		wanted.Set(fields[i], fields[i+1])
	}
	// Of several buttons of the name it is the one whose form has the fields.
	var form *html.Node
	button := r.find("button", called, func(n *html.Node) bool {
		if !strings.Contains(words(n), called) {
			return false
		}
		for form = n; form != nil && form.Data != "form"; form = form.Parent {
		}
		if form == nil {
			return false
		}
		have := formValues(form)
		for k := range wanted {
			if !have.Has(k) {
				return false
			}
		}
		return true
	})
	values := formValues(form)
	for k := range wanted {
		values.Set(k, wanted.Get(k))
	}
	if name, ok := attr(button, "name"); ok {
		value, _ := attr(button, "value")
		values.Set(name, value)
	}
	action, _ := attr(form, "action")
	if method, _ := attr(form, "method"); method != "post" {
		r.open(action + "?" + values.Encode())
		return
	}
	q, err := http.NewRequest(http.MethodPost, r.address+action, strings.NewReader(values.Encode()))
	require.NoError(r.t, err)
	q.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	q.Header.Set("Origin", r.address)
	answer, err := r.client.Do(q)
	require.NoError(r.t, err)
	r.take(answer)
}

// formValues are what a form has in its fields.
func formValues(form *html.Node) url.Values {
	out := url.Values{}
	for n := range form.Descendants() {
		name, ok := attr(n, "name")
		if n.Type != html.ElementNode || !ok {
			continue
		}
		switch n.Data {
		case "input":
			kind, _ := attr(n, "type")
			value, _ := attr(n, "value")
			if _, on := attr(n, "checked"); kind != "checkbox" && kind != "file" || on {
				out.Set(name, value)
			}
		case "select":
			for i, o := 0, n.FirstChild; o != nil; o = o.NextSibling {
				if o.Data != "option" {
					continue
				}
				value, given := attr(o, "value")
				if !given {
					value = words(o)
				}
				if _, chosen := attr(o, "selected"); chosen || i == 0 {
					out.Set(name, value)
				}
				i++
			}
		}
	}
	return out
}

// give sends files by the form for them.
func (r *reader) give(files map[string]string) {
	r.t.Helper()
	form := r.find("form", "for files", func(n *html.Node) bool { kind, _ := attr(n, "enctype"); return kind == "multipart/form-data" })
	action, _ := attr(form, "action")
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for name, text := range files {
		part, err := w.CreateFormFile("files", name)
		require.NoError(r.t, err)
		io.WriteString(part, text)
	}
	require.NoError(r.t, w.Close())
	q, err := http.NewRequest(http.MethodPost, r.address+action, &b)
	require.NoError(r.t, err)
	q.Header.Set("Content-Type", w.FormDataContentType())
	q.Header.Set("Origin", r.address)
	answer, err := r.client.Do(q)
	require.NoError(r.t, err)
	r.take(answer)
}

func (r *reader) says(text string) { r.t.Helper(); require.Contains(r.t, r.text, text) }

// Without scripts the whole way is there, by links and forms alone: from an empty
// folder to the answer, and every part after it.
func TestWithoutScripts(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := t.TempDir()
	r := newReader(t, dir)
	r.says("There is no table in the folder yet")
	r.give(map[string]string{"fish.csv": plain(t, "fish.csv"), "alder-ford.csv": plain(t, "arrays/alder-ford.csv.gz"), "lower river.csv": plain(t, "arrays/lower-river.csv.gz")})
	r.says("is this how 3 tables are to be read?")
	r.press("Set it", "time_zone", "Europe/Dublin")
	r.says("time_zone is Europe/Dublin")
	r.press("This is right: fish.csv")
	r.says("is this how 2 tables are")
	r.press("Set these", "column-site", "antenna", "column-antenna", "")
	r.says("Column: site: antenna")
	r.press("Undo")
	r.says("Taken back: ")
	r.press("↓ down: move Scar Weir downstream")
	r.press("↑ up: move Scar Weir upstream")
	r.press("Set names and km", "name-0", "Mill Lade", "km-0", "58", "km-1", "36.6", "km-2", "14.2", "km-3", "nought")
	r.says("it is a number")
	r.press("Set names and km", "km-3", "0") // what was typed before is there still
	r.says("Release site at km 58")
	r.press("write study.toml")
	r.says("Written: study.toml")
	_, err := os.Stat(filepath.Join(dir, "study.toml"))
	require.NoError(t, err)

	r.follow("Check")
	r.says("Points to check")
	r.follow("Its records")
	r.press("Search", "q", "Weir")
	r.follow("Close")
	r.find("li", "of a fish that turned back", func(n *html.Node) bool { id, _ := attr(n, "id"); return id == "finding-turned_back" })
	r.open("/check?about=&remedy=turned_back")
	r.says("It writes into the study file")
	r.press("Do this")
	r.says("the rule turned_back is off")
	r.press("Undo")

	r.follow("Answer")
	r.says("passed Scar Weir")
	r.press("Fit this model", "survival", "reach")
	r.press("Keep it", "name", "plain")
	r.says("kept the model plain")
	r.press("Fit this model", "survival", "reach + cohort")
	r.press("Keep it", "name", "cohorts")
	r.press("Make this the answer")
	r.says("cohorts is the answer")

	r.follow("Season")
	r.press("Show", "n", "20")
	r.follow("A day later")
	r.follow("Plan")
	r.press("Show", "fish", "900", "want", "5")
	r.says("900")
	r.press("Find", "tag", "999041000000908")
	r.says("Released at Mill Lade")

	r.follow("Trust")
	r.press("Start", "replicates", "100000", "kind", "bootstrap")
	r.says("Stop, and keep what was made")
	r.press("Stop, and keep what was made")
	r.open("/trust?model=cohorts")
	assert.Regexp(t, "(?i)stopped after|stopped before anything could be said", r.text)
	r.follow("Take away")
	r.says("report")

	// A new folder: the demo is a button away.
	r = newReader(t, t.TempDir())
	r.press("Show me the demo study")
	r.says("35.6")
	r.press("End unseen")
	r.says("unseen has ended")
}
