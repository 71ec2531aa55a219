package main

import (
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var (
	fenced   = regexp.MustCompile("(?ms)^ *```([a-z]*)\n(.*?)^ *```$")
	inCode   = regexp.MustCompile("`[^`\n]*`")
	linkTo   = regexp.MustCompile(`\]\(([^()\s]+(?:\([^()\s]*\)[^()\s]*)*)\)`)
	heading  = regexp.MustCompile(`(?m)^#{1,6} +(.+?) *#*$`)
	markedUp = regexp.MustCompile(`\[([^\]]*)\]\([^)]*\)`)
)

// document is a Markdown file of the repository.
type document struct {
	text    string // without what stands in fences
	fences  [][2]string
	anchors map[string]bool
}

func readPage(t *testing.T, path string) document {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	p := document{anchors: map[string]bool{}}
	for _, m := range fenced.FindAllStringSubmatch(string(data), -1) {
		p.fences = append(p.fences, [2]string{m[1], m[2]})
	}
	p.text = fenced.ReplaceAllString(string(data), "")
	seen := map[string]int{}
	for _, m := range heading.FindAllStringSubmatch(p.text, -1) {
		a := anchor(m[1])
		if n := seen[a]; n > 0 {
			p.anchors[a+"-"+strconv.Itoa(n)] = true
		} else {
			p.anchors[a] = true
		}
		seen[a]++
	}
	return p
}

// anchor is what a heading is linked by, as Git hosts make it: common practice.
func anchor(heading string) string {
	heading = markedUp.ReplaceAllString(heading, "$1")
	return strings.Map(func(r rune) rune {
		switch {
		case r == ' ':
			return '-'
		case r == '-' || r == '_' || unicode.IsLetter(r) || unicode.IsDigit(r):
			return unicode.ToLower(r)
		}
		return -1
	}, heading)
}

// documents are the Markdown files of the repository, by their path in it.
func documents(t *testing.T, root string) map[string]document {
	out := map[string]document{}
	require.NoError(t, filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && path != root && strings.HasPrefix(d.Name(), "."):
			return filepath.SkipDir
		case filepath.Ext(path) == ".md":
			rel, err := filepath.Rel(root, path)
			if err != nil {
				return err
			}
			out[filepath.ToSlash(rel)] = readPage(t, path)
		}
		return nil
	}))
	return out
}

// TestLinks follows every link of the documents to a file, and to a heading
// there; and from the README to every page of docs.
func TestLinks(t *testing.T) {
	root, err := filepath.Abs("../..")
	require.NoError(t, err)
	all := documents(t, root)
	links := 0
	reached := map[string]bool{}
	var follow func(from string)
	check := func(from, link string) string {
		u, err := url.Parse(link)
		if !assert.NoError(t, err, "%s: %s", from, link) || u.Scheme != "" {
			return ""
		}
		links++
		to := from
		if u.Path != "" {
			to = filepath.ToSlash(filepath.Join(filepath.Dir(from), filepath.FromSlash(u.Path)))
		}
		_, err = os.Stat(filepath.Join(root, to))
		if assert.NoError(t, err, "%s links to %s, which is not there", from, link) && u.Fragment != "" {
			p, ok := all[to]
			assert.True(t, ok && p.anchors[u.Fragment], "%s links to %s; %s has no such heading", from, link, to)
		}
		return to
	}
	follow = func(from string) {
		if reached[from] {
			return
		}
		reached[from] = true
		for _, m := range linkTo.FindAllStringSubmatch(inCode.ReplaceAllString(all[from].text, ""), -1) {
			if to := check(from, m[1]); to != "" {
				if _, ok := all[to]; ok {
					follow(to)
				}
			}
		}
	}
	follow("README.md")
	for path := range all {
		if strings.HasPrefix(path, "docs/") {
			assert.True(t, reached[path], "no link leads from the README to %s", path)
		}
		follow(path)
	}
	assert.Positive(t, links, "no link: the test looks at nothing")
}

// TestEveryCommandStandsInARunBlock: a command in a block that is not run could
// go stale; TestDocuments runs the blocks called console.
func TestEveryCommandStandsInARunBlock(t *testing.T) {
	root, err := filepath.Abs("../..")
	require.NoError(t, err)
	for path, p := range documents(t, root) {
		if path != "README.md" && !strings.HasPrefix(path, "docs/") {
			continue
		}
		for _, f := range p.fences {
			if f[0] == "console" {
				continue
			}
			for line := range strings.Lines(f[1]) {
				line = strings.TrimPrefix(strings.TrimSpace(line), "$ ")
				assert.False(t, strings.HasPrefix(line, "unseen "), "%s: %q stands in a block that no test runs", path, strings.TrimSpace(line))
			}
		}
	}
}

func TestAnchor(t *testing.T) {
	for heading, want := range map[string]string{
		"Columns of the fish table": "columns-of-the-fish-table", "[fish]": "fish", "`few-fish`": "few-fish", "2. How to read it": "2-how-to-read-it",
		"[[site]]": "site", "See [rules](rules.md), too": "see-rules-too", "λ and μ": "λ-and-μ", "last_day": "last_day",
	} {
		assert.Equal(t, want, anchor(heading))
	}
}
