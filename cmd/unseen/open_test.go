package main

import (
	"bufio"
	"bytes"
	"context"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/demo"
)

// opened runs unseen open on a folder and gives a browser that was let in, the
// address of the page, and what awaits the exit code.
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
	lines := bufio.NewScanner(r)
	var address string
	for address == "" && lines.Scan() {
		if strings.HasPrefix(lines.Text(), "http://") {
			address = lines.Text()
		}
	}
	require.NotEmpty(t, address, "no address was printed")
	go io.Copy(io.Discard, r)
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	client := &http.Client{Jar: jar}
	answer, err := client.Get(address)
	require.NoError(t, err)
	answer.Body.Close()
	require.Equal(t, 200, answer.StatusCode)
	u, err := url.Parse(address)
	require.NoError(t, err)
	return client, "http://" + u.Host, func() int {
		select {
		case c := <-code:
			return c
		case <-time.After(10 * time.Second):
			t.Fatal("the page does not end")
			return 0
		}
	}
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
	figures := filepath.Join(t.TempDir(), "figures")
	require.Equal(t, 0, run(t.Context(), []string{"unseen", "figures", study, "-o", figures}, strings.NewReader(""), io.Discard, io.Discard))
	for _, name := range []string{"passage.svg", "flow.pdf", "arrivals.png"} {
		want, err := os.ReadFile(filepath.Join(figures, name))
		require.NoError(t, err)
		assert.True(t, string(want) == fetched(t, c, address+"/get/figure/"+name), "%s is not what the command draws", name)
	}
	stop, err := http.NewRequest(http.MethodPost, address+"/stop", nil)
	require.NoError(t, err)
	stop.Header.Set("Origin", address)
	answer, err := c.Do(stop)
	require.NoError(t, err)
	answer.Body.Close()
	assert.Equal(t, 200, answer.StatusCode)
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
