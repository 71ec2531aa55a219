package desk

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/demo"
)

const testAddress = "127.0.0.1:4711"

// open opens a desk on a folder, without a socket.
func open(t *testing.T, folder string, change ...func(*Options)) *Desk {
	t.Helper()
	opt := Options{Folder: folder, Address: testAddress, Version: "test"}
	for _, f := range change {
		f(&opt)
	}
	d, err := New(t.Context(), opt)
	require.NoError(t, err)
	t.Cleanup(func() { d.Close() })
	return d
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

// hollin is a folder with the demo study.
func hollin(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, writeDemo(dir))
	return dir
}

func writeDemo(dir string) error { return demo.Write(dir, atomicfile.Rule{}) }

// plain is a table of the demo, unpacked.
func plain(t *testing.T, name string) string {
	t.Helper()
	f, err := demo.Files().Open(name)
	require.NoError(t, err)
	defer f.Close()
	var r io.Reader = f
	if strings.HasSuffix(name, ".gz") {
		r, err = gzip.NewReader(f)
		require.NoError(t, err)
	}
	text, err := io.ReadAll(r)
	require.NoError(t, err)
	return string(text)
}

// ask sends what a browser that was let in sends; change makes it another
// request.
func ask(d *Desk, method, path string, body io.Reader, change ...func(*http.Request)) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, path, body)
	r.Host = testAddress
	r.AddCookie(&http.Cookie{Name: d.guard.cookie, Value: d.guard.token})
	if method == http.MethodPost {
		r.Header.Set("Origin", "http://"+testAddress)
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for _, f := range change {
		f(r)
	}
	w := httptest.NewRecorder()
	d.ServeHTTP(w, r)
	return w
}

func get(t *testing.T, d *Desk, path string) string {
	t.Helper()
	w := ask(d, http.MethodGet, path, nil)
	require.Equal(t, http.StatusOK, w.Code, "%s: %s", path, w.Body)
	return w.Body.String()
}

// post sends a form and gives what is said on the page it leads to.
func post(t *testing.T, d *Desk, path string, form url.Values) string {
	t.Helper()
	w := ask(d, http.MethodPost, path, strings.NewReader(form.Encode()))
	require.Equal(t, http.StatusSeeOther, w.Code, "%s: %s", path, w.Body)
	return get(t, d, w.Header().Get("Location"))
}

func header(name, value string) func(*http.Request) {
	return func(r *http.Request) {
		if r.Header.Del(name); value != "" {
			r.Header.Set(name, value)
		}
	}
}

func host(name string) func(*http.Request) { return func(r *http.Request) { r.Host = name } }

func TestGuard(t *testing.T) {
	d := open(t, hollin(t))
	tooMuch := strings.NewReader("back=/&x=" + strings.Repeat("x", 2<<20))
	for _, c := range []struct {
		name, method, path string
		body               io.Reader
		change             []func(*http.Request)
		code               int
	}{
		{"the page itself", "GET", "/answer", nil, nil, 200},
		{"by another name of this machine", "GET", "/answer", nil, []func(*http.Request){host("localhost:4711")}, 200},
		{"from the address bar", "GET", "/answer", nil, []func(*http.Request){header("Sec-Fetch-Site", "none")}, 200},
		{"another host", "GET", "/answer", nil, []func(*http.Request){host("river.example:4711")}, 421},
		{"another port", "GET", "/answer", nil, []func(*http.Request){host("127.0.0.1:80")}, 421},
		{"no host", "GET", "/answer", nil, []func(*http.Request){host("")}, 421},
		{"another host at the door", "GET", entrance + "?key=" + d.guard.token, nil, []func(*http.Request){host("river.example:4711")}, 421},
		{"no token", "GET", "/answer", nil, []func(*http.Request){header("Cookie", "")}, 403},
		{"a wrong token", "GET", "/answer", nil, []func(*http.Request){header("Cookie", d.guard.cookie+"=x")}, 403},
		{"an empty token", "GET", "/answer", nil, []func(*http.Request){header("Cookie", d.guard.cookie+"=")}, 403},
		{"no token for a file", "GET", "/get/study.toml", nil, []func(*http.Request){header("Cookie", "")}, 403},
		{"no token for the style", "GET", "/desk.css", nil, []func(*http.Request){header("Cookie", "")}, 403},
		{"no key", "GET", entrance, nil, []func(*http.Request){header("Cookie", "")}, 403},
		{"a wrong key", "GET", entrance + "?key=x", nil, []func(*http.Request){header("Cookie", "")}, 403},
		{"asked for by another site", "GET", "/get/fit.json", nil, []func(*http.Request){header("Sec-Fetch-Site", "cross-site")}, 403},
		{"asked for by another port of this machine", "GET", "/get/fit.json", nil, []func(*http.Request){header("Sec-Fetch-Site", "same-site")}, 403},
		{"read with another origin", "GET", "/get/fit.json", nil, []func(*http.Request){header("Origin", "http://127.0.0.1:80")}, 403},
		{"a form of another site", "POST", "/undo", nil, []func(*http.Request){header("Origin", "http://river.example")}, 403},
		{"a form of another port", "POST", "/undo", nil, []func(*http.Request){header("Origin", "http://127.0.0.1:80")}, 403},
		{"a form of a frame without origin", "POST", "/undo", nil, []func(*http.Request){header("Origin", "null")}, 403},
		{"a form from nowhere", "POST", "/undo", nil, []func(*http.Request){header("Origin", "")}, 403},
		{"a form without a token", "POST", "/stop", nil, []func(*http.Request){header("Cookie", "")}, 403},
		{"a form that is too large", "POST", "/undo", tooMuch, nil, 413},
		{"another method", "PUT", "/answer", nil, nil, 405},
		{"no such part", "GET", "/secrets", nil, nil, 404},
		{"no such file", "GET", "/get/truth.json", nil, nil, 404},
		{"out of the folder", "GET", "/get/..%2f..%2fetc%2fpasswd", nil, nil, 404},
		{"an edit by reading", "GET", "/undo", nil, nil, 404},
	} {
		if c.body == nil {
			c.body = http.NoBody
		}
		w := ask(d, c.method, c.path, c.body, c.change...)
		assert.Equal(t, c.code, w.Code, "%s: %s", c.name, w.Body)
		h := w.Header()
		assert.Contains(t, h.Get("Content-Security-Policy"), "default-src 'none'", c.name)
		assert.Equal(t, "nosniff", h.Get("X-Content-Type-Options"), c.name)
		if c.code != 200 && c.code != 404 {
			assert.NotContains(t, w.Body.String(), "Tidehead", "%s: something of the study is told", c.name)
		}
	}
	assert.NoError(t, d.ctx.Err(), "a request that was refused ended the desk")
}

func TestKeysOpenThePage(t *testing.T) {
	d := open(t, hollin(t))
	once, printed := strings.TrimPrefix(d.Once(), "http://"+testAddress), strings.TrimPrefix(d.Address(), "http://"+testAddress)
	require.NotEqual(t, once, printed)
	for _, c := range []struct {
		path string
		code int
	}{{once, 200}, {once, 403}, {printed, 200}, {printed, 200}} {
		w := ask(d, http.MethodGet, c.path, nil, header("Cookie", ""), header("Sec-Fetch-Site", "cross-site"))
		require.Equal(t, c.code, w.Code)
		if c.code == 200 {
			cookie := w.Header().Get("Set-Cookie")
			assert.Contains(t, cookie, d.guard.token)
			for _, must := range []string{"HttpOnly", "SameSite=Strict", "Path=/"} {
				assert.Contains(t, cookie, must)
			}
		} else {
			assert.Empty(t, w.Header().Get("Set-Cookie"))
		}
	}
}

func TestBackLeadsNowhereElse(t *testing.T) {
	d := open(t, hollin(t))
	for _, to := range []string{"https://river.example/", "//river.example/", "/\\river.example", "river.example", ""} {
		w := ask(d, http.MethodPost, "/undo", strings.NewReader(url.Values{"back": {to}}.Encode()))
		require.Equal(t, http.StatusSeeOther, w.Code)
		u, err := url.Parse(w.Header().Get("Location"))
		require.NoError(t, err)
		assert.Empty(t, u.Host, to)
		assert.Equal(t, "/", u.Path, to)
	}
}

// sent is a form with files.
func sent(files map[string]string) (io.Reader, func(*http.Request)) {
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for name, text := range files {
		part, err := w.CreateFormFile("files", name)
		if err != nil {
			panic(err)
		}
		io.WriteString(part, text)
	}
	w.Close()
	return &b, header("Content-Type", w.FormDataContentType())
}

func upload(t *testing.T, d *Desk, files map[string]string) string {
	t.Helper()
	body, kind := sent(files)
	w := ask(d, http.MethodPost, "/upload", body, kind)
	require.Equal(t, http.StatusSeeOther, w.Code, "%s", w.Body)
	return get(t, d, w.Header().Get("Location"))
}

// tree are the files under a folder with what is in them.
func tree(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(path string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		rel, _ := filepath.Rel(dir, path)
		out[rel] = string(text)
		return err
	}))
	return out
}

func TestUpload(t *testing.T) {
	parent := t.TempDir()
	dir := filepath.Join(parent, "study")
	require.NoError(t, os.Mkdir(dir, 0o777))
	d := open(t, dir)
	said := upload(t, d, map[string]string{"fish.csv": "tag\n1\n"})
	assert.Contains(t, said, "Taken into the folder: fish.csv")
	want := map[string]string{"study/fish.csv": "tag\n1\n"}
	assert.Equal(t, want, tree(t, parent))

	for name, says := range map[string]string{
		"fish.csv":                        "already there",
		"../fish2.csv":                    "", // the name alone counts: a file in the folder
		`..\fish3.csv`:                    "",
		"notes.exe":                       "no table",
		".hidden.csv":                     "cannot be called",
		"a:b.csv":                         "cannot be called",
		"CON.csv":                         "cannot be called", // none on Windows, whatever system this is
		"lpt1.csv":                        "cannot be called",
		"what?.csv":                       "cannot be called",
		"tab\tin.csv":                     "cannot be called",
		strings.Repeat("x", 300) + ".csv": "cannot be called",
	} {
		said := upload(t, d, map[string]string{name: "other"})
		if says != "" {
			assert.Contains(t, said, says, name)
		}
	}
	want["study/fish2.csv"], want["study/fish3.csv"] = "other", "other"
	assert.Equal(t, want, tree(t, parent))

	require.NoError(t, os.Symlink(filepath.Join(parent, "elsewhere.csv"), filepath.Join(dir, "link.csv")))
	assert.Contains(t, upload(t, d, map[string]string{"link.csv": "other"}), "already there")
	_, err := os.Stat(filepath.Join(parent, "elsewhere.csv"))
	assert.ErrorIs(t, err, os.ErrNotExist)
}

// Of files sent at once under one name the first is kept.
func TestUploadsOfOneName(t *testing.T) {
	dir := t.TempDir()
	d := open(t, dir)
	said := make([]string, 12)
	var wg sync.WaitGroup
	for i := range said {
		wg.Go(func() {
			body, kind := sent(map[string]string{"fish.csv": fmt.Sprint("tag\n", i, "\n")})
			w := ask(d, http.MethodPost, "/upload", body, kind)
			said[i] = d.notes.of(regexp.MustCompile(`note=(\d+)`).FindStringSubmatch(w.Header().Get("Location"))[1]).Text
		})
	}
	wg.Wait()
	kept := -1
	for i, s := range said {
		if strings.HasPrefix(s, "Taken") {
			assert.Negative(t, kept, "two were kept")
			kept = i
		} else {
			assert.Contains(t, s, "already there")
		}
	}
	assert.Equal(t, map[string]string{"fish.csv": fmt.Sprint("tag\n", kept, "\n")}, tree(t, dir))
}

func TestUploadIsLimited(t *testing.T) {
	dir := t.TempDir()
	d := open(t, dir, func(o *Options) { o.MaxUpload = 1000 })
	body, kind := sent(map[string]string{"huge.csv": strings.Repeat("x", 5000)})
	w := ask(d, http.MethodPost, "/upload", body, kind)
	assert.Equal(t, http.StatusRequestEntityTooLarge, w.Code)
	assert.Empty(t, tree(t, dir), "half a file is left")
}

func TestHTMLInNamesIsShown(t *testing.T) {
	dir := t.TempDir()
	d := open(t, dir)
	const name = "<img src=x onerror=alert(1)>.csv"
	page := upload(t, d, map[string]string{name: "tag\n1\n"})
	assert.NotContains(t, page, "<img")
	assert.Contains(t, page, "&lt;img src=x onerror=alert(1)&gt;.csv")
	for _, path := range []string{"/answer?site=<img src=x>", "/answer?survival=<img src=x>", "/check?why=<img src=x>", "/fish?tag=<img src=x>"} {
		assert.NotContains(t, get(t, d, strings.ReplaceAll(path, " ", "%20")), "<img", path)
	}
}

func TestHTMLInAStudyIsShown(t *testing.T) {
	dir := hollin(t)
	path := filepath.Join(dir, "study.toml")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	const bad = "<script>alert(1)</script>"
	changed := strings.NewReplacer("Hollin Water", bad, "Scar Weir", "Scar "+bad).Replace(string(text))
	require.NoError(t, os.WriteFile(path, []byte(changed), 0o644))
	d := open(t, dir)
	for _, part := range parts {
		page := get(t, d, "/"+part.id)
		assert.NotContains(t, page, bad, part.id)
		assert.Contains(t, page, "&lt;script&gt;alert(1)", part.id)
	}
}

func TestOnlyFilesOfTheFolderAreRead(t *testing.T) {
	parent := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(parent, "secret.csv"), []byte("tag,released\nsecret,2025-04-01\n"), 0o644))
	dir := filepath.Join(parent, "study")
	require.NoError(t, demo.Write(dir, atomicfile.Rule{}))
	path := filepath.Join(dir, "study.toml")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.Symlink(filepath.Join(parent, "secret.csv"), filepath.Join(dir, "link.csv")))
	require.NoError(t, os.Symlink(parent, filepath.Join(dir, "linked")))
	d := open(t, dir)
	require.Contains(t, get(t, d, "/answer"), "35.6")
	for _, c := range [][2]string{
		{`"fish.csv"`, `"../secret.csv"`},
		{`"fish.csv"`, `"` + filepath.ToSlash(filepath.Join(parent, "secret.csv")) + `"`},
		{`"fish.csv"`, `"link.csv"`},
		{`"fish.csv"`, `"linked/secret.csv"`},
		{`"arrays/*.csv.gz"`, `"../*.csv"`},
		{`"arrays/*.csv.gz"`, `"linked"`},
		{`"arrays/*.csv.gz"`, `"link.csv"`},
	} {
		changed := strings.Replace(string(text), c[0], c[1], 1)
		require.NotEqual(t, string(text), changed)
		require.NoError(t, os.WriteFile(path, []byte(changed), 0o644))
		page := get(t, d, "/tables")
		assert.Contains(t, page, "lies outside the folder", c[1])
		assert.NotContains(t, page, "secret,", c[1])
		assert.NotContains(t, page, "1,800 fish", c[1])
	}
	require.NoError(t, os.WriteFile(path, text, 0o644))
	assert.Contains(t, get(t, d, "/tables"), "1,800 fish", "the study as it was is read again")
}

func TestReadOnlyWritesNothing(t *testing.T) {
	dir := hollin(t)
	before := tree(t, dir)
	d := open(t, dir, func(o *Options) { o.ReadOnly = true })
	for _, path := range []string{"/upload", "/demo", "/study", "/edit", "/undo"} {
		body, kind := sent(map[string]string{"new.csv": "tag\n1\n"})
		assert.Equal(t, http.StatusForbidden, ask(d, http.MethodPost, path, body, kind).Code, path)
	}
	assert.Contains(t, get(t, d, "/answer"), "read-only")
	assert.Equal(t, before, tree(t, dir))
}

func TestStopEndsTheDesk(t *testing.T) {
	d := open(t, hollin(t))
	assert.Equal(t, http.StatusOK, ask(d, http.MethodPost, "/stop", nil).Code)
	<-d.Done()
}

func TestDemoIsAClickAway(t *testing.T) {
	d := open(t, t.TempDir())
	assert.Contains(t, get(t, d, "/tables"), "There is no table in the folder yet")
	assert.Contains(t, post(t, d, "/demo", nil), "35.6")
	// In a folder that holds other things it gets one of its own.
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "study.toml"), []byte("mine"), 0o644))
	d = open(t, dir)
	assert.Contains(t, post(t, d, "/demo", nil), "35.6")
	assert.Equal(t, "mine", tree(t, dir)["study.toml"])
}
