package line

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
)

// ForceFlag is of every command that writes files.
func ForceFlag() cli.Flag {
	return &cli.BoolFlag{Name: "force", DisableDefaultText: true, Usage: "replace other files too, but never one that is read"}
}

// OutputRule is what a command may do to files that are there: not to those of
// its study or plan, nor to others named on its line.
func OutputRule(c *cli.Context, from analysis.Source) atomicfile.Rule {
	rule := atomicfile.Rule{Force: c.Bool("force"), Inputs: WithPatterns(c.Args().Slice())}
	for _, flag := range []string{"since", "truth"} {
		if file := c.String(flag); file != "" {
			rule.Inputs = append(rule.Inputs, file)
		}
	}
	if from.Path != "" {
		rule.Inputs = append(rule.Inputs, from.Files()...)
	}
	if st := from.StudyFile; st != nil {
		rule.Inputs = append(rule.Inputs, st.TableFiles()...)
		rule.Reads = ReadsAs(st)
	}
	return rule
}

// ReadsAs tells of a path where the study would take a file for sightings.
func ReadsAs(st *study.Study) func(string) string {
	return func(path string) string {
		if files := table.WouldRead(st, path); files != "" {
			return fmt.Sprintf("the study reads its sightings from %q, and would read this file as such", files)
		}
		return ""
	}
}

// Missing tells whether looking for a path that was named failed as there is nothing
// of that name. Windows does not look for one with a sign of patterns in it, and
// says that the name is none.
func Missing(path string, err error) bool {
	return errors.Is(err, fs.ErrNotExist) || err != nil && strings.ContainsAny(path, "*?")
}

// WithPatterns are paths of the line with patterns taken for the files they find,
// as the shells of Windows do not. One that finds none stays.
func WithPatterns(paths []string) (out []string) {
	for _, p := range paths {
		found := []string{p}
		if _, err := os.Stat(p); err != nil {
			if m, err := filepath.Glob(p); err == nil && len(m) > 0 {
				found = m
			}
		}
		out = append(out, found...)
	}
	return out
}
