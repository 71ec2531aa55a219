// Package notebooks_test holds the notebooks to what the program answers today.
package notebooks_test

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// notebook is the part of Jupyter's format (nbformat 4.5) that is looked at.
type notebook struct {
	Cells []cell `json:"cells"`
}

type cell struct {
	ID       string          `json:"id"`
	Type     string          `json:"cell_type"`
	Source   lines           `json:"source"`
	Count    *int            `json:"execution_count"`
	Outputs  []output        `json:"outputs"`
	Metadata json.RawMessage `json:"metadata"`
}

type output struct {
	Type string           `json:"output_type"`
	Name string           `json:"name"`
	Text lines            `json:"text"`
	Data map[string]lines `json:"data"`
}

// lines is text that Jupyter writes as one string or as its lines.
type lines string

func (l *lines) UnmarshalJSON(b []byte) error {
	var one string
	if json.Unmarshal(b, &one) == nil {
		*l = lines(one)
		return nil
	}
	var many []string
	if err := json.Unmarshal(b, &many); err != nil {
		return err
	}
	*l = lines(strings.Join(many, ""))
	return nil
}

func read(t *testing.T, path string) notebook {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	var n notebook
	require.NoError(t, json.NewDecoder(bytes.NewReader(data)).Decode(&n), path)
	require.NotEmpty(t, n.Cells, path)
	return n
}

func paths(t *testing.T) []string {
	t.Helper()
	found, err := filepath.Glob("*.ipynb")
	require.NoError(t, err)
	require.Len(t, found, 5, "the notebooks that the docs speak of")
	return found
}

var (
	absolute = regexp.MustCompile(`(?m)(?:^|[\s"'(=])(?:/[\w.+-]+){2,}|\b[A-Z]:\\`)
	clock    = regexp.MustCompile(`0x[0-9a-f]{6,}|\d+(?:\.\d+)? (?:seconds|ms)\b`)
	imported = regexp.MustCompile(`(?m)^(?:import|from) ([\w, ]+?)(?: import .*)?$`)
	link     = regexp.MustCompile(`\]\(([^)#]+)`)
)

// What is imported: Python's standard library and the file beside the notebooks.
var standard = []string{"csv", "gzip", "json", "math", "pathlib", "shutil", "unseen"}

// TestCommitted looks at the notebooks as they are committed: executed once
// from the top, without errors, clocks, addresses or paths of a machine.
func TestCommitted(t *testing.T) {
	for _, path := range paths(t) {
		t.Run(path, func(t *testing.T) {
			count, figures := 0, 0
			for _, c := range read(t, path).Cells {
				assert.JSONEq(t, "{}", string(c.Metadata), "cell %s carries metadata of a run or an editor", c.ID)
				if c.Type != "code" {
					for _, m := range link.FindAllStringSubmatch(string(c.Source), -1) {
						if !strings.Contains(m[1], "://") {
							assert.FileExists(t, filepath.FromSlash(m[1]), "cell %s", c.ID)
						}
					}
					continue
				}
				count++
				if assert.NotNil(t, c.Count, "cell %s was not executed: notebooks/execute.py", c.ID) {
					assert.Equal(t, count, *c.Count, "cell %s was executed out of turn: notebooks/execute.py", c.ID)
				}
				for _, m := range imported.FindAllStringSubmatch(string(c.Source), -1) {
					for name := range strings.SplitSeq(m[1], ",") {
						assert.Contains(t, standard, strings.TrimSpace(name), "cell %s", c.ID)
					}
				}
				for _, o := range c.Outputs {
					assert.NotEqual(t, "error", o.Type, "cell %s", c.ID)
					assert.NotEqual(t, "stderr", o.Name, "cell %s: %s", c.ID, o.Text)
					if svg, ok := o.Data["image/svg+xml"]; ok {
						figures++
						assert.Contains(t, svg, "<desc", "a figure without a description")
					}
					for _, text := range append([]lines{o.Text}, o.Data["text/plain"], o.Data["image/svg+xml"]) {
						assert.NotRegexp(t, absolute, string(text), "cell %s shows a path of a machine", c.ID)
						assert.NotRegexp(t, clock, string(text), "cell %s shows a clock or an address", c.ID)
					}
				}
			}
			assert.Positive(t, count, "no code")
			if !strings.Contains(path, "published") {
				assert.Positive(t, figures, "no figure")
			}
		})
	}
}
