package main

import (
	"context"
	"flag"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "rewrite the expected output in scripts and documents")

func TestMain(m *testing.M) {
	if os.Getenv(asUnseen) != "" {
		asProgram()
	}
	testscript.Main(m, map[string]func(){"unseen": main})
}

// shortScripts run with -short, racedScripts with the race detector besides.
var (
	shortScripts = []string{"conditions.txt", "new_no_sightings.txt", "onesite.txt"}
	racedScripts = []string{"compare.txt", "new.txt", "whatif.txt"}
)

// TestScripts runs the scripts of testdata/script against the program.
func TestScripts(t *testing.T) {
	files, err := filepath.Glob("testdata/script/*.txt")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	if testing.Short() {
		files = slices.DeleteFunc(files, func(f string) bool {
			name := filepath.Base(f)
			return !slices.Contains(shortScripts, name) && !(raced && slices.Contains(racedScripts, name))
		})
	}
	testscript.Run(t, testscript.Params{
		Files:         files,
		UpdateScripts: *update,
		Setup: func(e *testscript.Env) error {
			root, err := os.Getwd()
			if err != nil {
				return err
			}
			e.Setenv("ROOT", root+"/../..")
			e.Setenv("NO_COLOR", "1")
			return nil
		},
		Condition: nil,
		Cmds:      scriptCommands,
	})
}

// runHere runs the program in this process and returns what it wrote.
func runHere(ctx context.Context, t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, err writer
	code = run(ctx, append([]string{"unseen"}, args...), nil, &out, &err)
	return code, string(out), string(err)
}

type writer []byte

func (w *writer) Write(b []byte) (int, error) {
	*w = append(*w, b...)
	return len(b), nil
}
