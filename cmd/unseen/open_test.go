package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/demo"
)

// entered is a browser that was let in by the address that unseen open prints,
// and the page it is on.
func entered(t *testing.T, printed io.Reader) (*http.Client, string) {
	t.Helper()
	lines := bufio.NewScanner(printed)
	var address string
	for address == "" && lines.Scan() {
		if strings.HasPrefix(lines.Text(), "http://") {
			address = lines.Text()
		}
	}
	require.NotEmpty(t, address, "no address was printed")
	go io.Copy(io.Discard, printed)
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	client := &http.Client{Jar: jar}
	answer, err := client.Get(address)
	require.NoError(t, err)
	answer.Body.Close()
	require.Equal(t, 200, answer.StatusCode)
	u, err := url.Parse(address)
	require.NoError(t, err)
	return client, "http://" + u.Host
}

// opened runs unseen open on a folder and gives a browser on its page, and what
// awaits the exit code.
func opened(t *testing.T, args ...string) (*http.Client, string, func() int) {
	t.Helper()
	r, w := io.Pipe()
	code := make(chan int, 1)
	ctx, cancel := context.WithCancel(t.Context())
	t.Cleanup(cancel)
	go func() {
		code <- run(ctx, append([]string{"unseen", "open", "--no-browser"}, args...), strings.NewReader(""), w, io.Discard)
		w.Close()
	}()
	client, address := entered(t, r)
	return client, address, func() int {
		select {
		case c := <-code:
			return c
		case <-time.After(10 * time.Second):
			t.Fatal("the page does not end")
			return 0
		}
	}
}

// sent sends a form of the page.
func sent(t *testing.T, c *http.Client, address, path string, form url.Values) {
	t.Helper()
	r, err := http.NewRequest(http.MethodPost, address+path, strings.NewReader(form.Encode()))
	require.NoError(t, err)
	r.Header.Set("Origin", address)
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	answer, err := c.Do(r)
	require.NoError(t, err)
	answer.Body.Close()
	require.Equal(t, 200, answer.StatusCode)
}

// An edit that the page answered is on the disk, whatever becomes of the program
// then, and the next one can take it back.
func TestKilledPageLosesNoEdit(t *testing.T) {
	if testing.Short() && !raced {
		t.Skip("long")
	}
	dir := t.TempDir()
	require.NoError(t, demo.Write(dir, atomicfile.Rule{}))
	path := filepath.Join(dir, "study.toml")
	text := func() string {
		b, err := os.ReadFile(path)
		require.NoError(t, err)
		return string(b)
	}
	sum := func() string { return fmt.Sprintf("%x", sha256.Sum256([]byte(text()))) }
	before := text()
	for _, path := range []string{"/edit", "/undo"} {
		self, err := os.Executable()
		require.NoError(t, err)
		cmd := exec.Command(self, "open", "--no-browser", dir)
		cmd.Env = append(os.Environ(), asUnseen+"=1")
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		c, address := entered(t, out)
		sent(t, c, address, path, url.Values{"sum": {sum()}, "do": {"remedy"}, "kind": {"off"}, "rule": {"turned_back"}})
		require.NoError(t, cmd.Process.Kill())
		cmd.Wait()
		if path == "/edit" {
			assert.Contains(t, text(), `"turned_back"`)
		}
	}
	assert.Equal(t, before, text())
}

func fetched(t *testing.T, c *http.Client, address string) string {
	t.Helper()
	answer, err := c.Get(address)
	require.NoError(t, err)
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	require.Equal(t, 200, answer.StatusCode, "%s: %s", address, text)
	return string(text)
}

// What is taken away on the page is what the command gives, byte for byte.
func TestOpenGivesTheBytesOfTheCommands(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	dir := t.TempDir()
	require.NoError(t, demo.Write(dir, atomicfile.Rule{}))
	study := filepath.Join(dir, "study.toml")
	c, address, end := opened(t, study)
	for _, x := range []struct {
		page string
		args []string
	}{
		{"fit.json", []string{"fit", study, "--json"}},
		{"fit.json?survival=reach+by+cohort&detection=site", []string{"fit", study, "--json", "--survival", "reach by cohort", "--detection", "site"}},
		{"fit.json?model=each+cohort+its+own", []string{"fit", study, "--json", "--model", "each cohort its own"}},
		{"check.json", []string{"check", study, "--json"}},
		{"report.html", []string{"report", study}},
		{"report.html?survival=reach&detection=row", []string{"report", study, "--survival", "reach", "--detection", "row"}},
	} {
		var out bytes.Buffer
		require.Equal(t, 0, run(t.Context(), append([]string{"unseen"}, x.args...), strings.NewReader(""), &out, io.Discard), x.page)
		assert.True(t, out.String() == fetched(t, c, address+"/get/"+x.page), "%s is not what the command gives", x.page)
	}
	book := filepath.Join(t.TempDir(), "fit.xlsx")
	require.Equal(t, 0, run(t.Context(), []string{"unseen", "fit", study, "--xlsx", book}, strings.NewReader(""), io.Discard, io.Discard))
	want, err := os.ReadFile(book)
	require.NoError(t, err)
	assert.True(t, string(want) == fetched(t, c, address+"/get/fit.xlsx"), "fit.xlsx is not what the command gives")
	figures := filepath.Join(t.TempDir(), "figures")
	require.Equal(t, 0, run(t.Context(), []string{"unseen", "figures", study, "-o", figures}, strings.NewReader(""), io.Discard, io.Discard))
	for _, name := range []string{"passage.svg", "flow.pdf", "arrivals.png"} {
		want, err := os.ReadFile(filepath.Join(figures, name))
		require.NoError(t, err)
		assert.True(t, string(want) == fetched(t, c, address+"/get/figure/"+name), "%s is not what the command draws", name)
	}
	sent(t, c, address, "/stop", nil)
	assert.Equal(t, exitUsable, end())
}

func TestOpenEndsWithTheProgram(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	r, w := io.Pipe()
	code := make(chan int, 1)
	go func() {
		code <- run(ctx, []string{"unseen", "open", t.TempDir(), "--no-browser"}, strings.NewReader(""), w, io.Discard)
		w.Close()
	}()
	lines := bufio.NewScanner(r)
	for lines.Scan() {
		if strings.HasPrefix(lines.Text(), "It is for this machine") {
			cancel()
		}
	}
	assert.NotEqual(t, exitRefused, <-code, "interrupted is not refused")
}

func TestOpenRefuses(t *testing.T) {
	for _, args := range [][]string{{"there-is-none"}, {"a", "b"}, {"--port", "70000", "."}, {"--port", "0", "."}} {
		var out bytes.Buffer
		assert.Equal(t, exitCall, run(t.Context(), append([]string{"unseen", "open", "--no-browser"}, args...), strings.NewReader(""), io.Discard, &out), "%v: %s", args, out.String())
	}
}
