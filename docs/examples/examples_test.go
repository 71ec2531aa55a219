package examples

import (
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Each program builds, runs, and says what the command says of the same study: the
// demo's shares that passed (docs/tutorial.md), and the independently computed fit of one
// detection for all years (testdata/published/lebreton1992/models.json).
func TestExamples(t *testing.T) {
	if testing.Short() {
		t.Skip("compiles three programs")
	}
	const demo = "../../cmd/unseen/internal/demo/files/study.toml"
	for program, x := range map[string]struct {
		study string
		says  []string
	}{
		"table":  {"../../testdata/published/lebreton1992/dipper_next_seen.toml", []string{"-2 ln L 659.73 with 7 parameters, converged", "1982 to 1983: 0.454"}},
		"season": {demo, []string{"2025-05-23: 35.7 %", "in the end 35.6 % (30.1 to 43.2)"}},
		"report": {demo, []string{"1800 fish, 5474 sighting records read, 2266 of them kept", "| Tidehead | 23.8 | 35.6 | 30.1 to 43.2 |", "Verdict: converged."}},
	} {
		t.Run(program, func(t *testing.T) {
			out, err := exec.CommandContext(t.Context(), "go", "run", "./"+program, x.study).CombinedOutput()
			require.NoError(t, err, string(out))
			for _, s := range x.says {
				assert.Contains(t, strings.ReplaceAll(string(out), "\u2212", "-"), s)
			}
		})
	}
}
