package argv

import (
	"os/exec"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/urfave/cli/v2"
)

func app() *cli.App {
	return &cli.App{Name: "unseen", Commands: []*cli.Command{
		{Name: "fit", Flags: []cli.Flag{
			&cli.StringFlag{Name: "model"}, &cli.Float64Flag{Name: "level"}, &cli.IntFlag{Name: "fish"}, &cli.Uint64Flag{Name: "seed"},
			&cli.BoolFlag{Name: "json", Aliases: []string{"j"}}, &cli.StringSliceFlag{Name: "survival"},
		}},
		{Name: "check"},
	}}
}

func TestForward(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"unseen", "unseen"},
		{"unseen --version", "unseen --version"},
		{"unseen nonsense --model x", "unseen nonsense --model x"},
		{"unseen fit s.toml", "unseen fit -- s.toml"},
		{"unseen fit s.toml --json", "unseen fit --json -- s.toml"},
		{"unseen fit --json s.toml", "unseen fit --json -- s.toml"},
		{"unseen fit s.toml --model m", "unseen fit --model m -- s.toml"},
		{"unseen fit s.toml --model=m", "unseen fit --model=m -- s.toml"},
		{"unseen fit s.toml --level -3", "unseen fit --level -3 -- s.toml"},
		{"unseen fit --survival a s.toml --survival b -j", "unseen fit --survival a --survival b -j -- s.toml"},
		{"unseen fit - --json", "unseen fit --json -- -"},
		{"unseen fit --json -- --odd.toml", "unseen fit --json -- --odd.toml"},
		{"unseen fit --json=false s.toml", "unseen fit --json=false -- s.toml"},
		{"unseen fit s.toml --help", "unseen fit --help"},
		{"unseen check a b", "unseen check -- a b"},
		{"unseen fit --fish 0100 s.toml --seed=08", "unseen fit --fish=100 --seed=8 -- s.toml"},
		{"unseen fit --fish -00 --seed 000", "unseen fit --fish=-0 --seed=0"},
	} {
		got, err := Forward(app(), strings.Fields(c.in))
		require.NoError(t, err, c.in)
		assert.Equal(t, c.want, strings.Join(got, " "), c.in)
	}
}

func TestForwardRefuses(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"unseen fit s.toml --modle m", "fit has no flag --modle; did you mean --model?"},
		{"unseen fit --surv m s.toml", "fit has no flag --surv; did you mean --survival?"},
		{"unseen check s.toml --model=m", "check has no flag --model; its flags: unseen check --help"},
		{"unseen fit s.toml --model", "--model needs a value"},
		{"unseen fit --fish 0x10", `--fish is "0x10"; it is a whole number`},
		{"unseen fit --seed=1_000", `--seed is "1_000"; it is a whole number`},
		{"unseen fit --fish NaN", `--fish is "NaN"; it is a whole number`},
		{"unseen fit --level 0.9 s.toml --level=0.8", "--level is given twice; give one value"},
	} {
		_, err := Forward(app(), strings.Fields(c.in))
		assert.EqualError(t, err, c.want, c.in)
	}
}

func TestNearest(t *testing.T) {
	words := []string{"demo", "fit", "histories", "check"}
	for in, want := range map[string]string{
		"hist": "histories", "histores": "histories", "fti": "fit", "fits": "fit", "Demo": "demo", "x": "", "weather": "",
	} {
		assert.Equal(t, want, Nearest(in, words), in)
	}
}

// Words as a command line has them, on either system.
func TestQuoted(t *testing.T) {
	for _, c := range []struct{ word, unix, windows string }{
		{`study.toml`, `study.toml`, `study.toml`},
		{`a/b.toml`, `a/b.toml`, `a/b.toml`},
		{`C:\my data\study.toml`, `'C:\my data\study.toml'`, `"C:\my data\study.toml"`},
		{`C:\data\study.toml`, `'C:\data\study.toml'`, `C:\data\study.toml`},
		{`\\server\the share\`, `'\\server\the share\'`, `"\\server\the share\\"`},
		{`reach + cohort`, `"reach + cohort"`, `"reach + cohort"`},
		{`"fork length" + reach`, `'"fork length" + reach'`, `"\"fork length\" + reach"`},
		{`it's`, `"it's"`, `"it's"`},
		{`it's $5`, `'it'\''s $5'`, `"it's $5"`},
		{`R&D.toml`, `"R&D.toml"`, `"R&D.toml"`},
		{`Mühle.toml`, `Mühle.toml`, `Mühle.toml`},
		{``, `""`, `""`},
	} {
		assert.Equal(t, c.unix, quoted(false, c.word))
		assert.Equal(t, c.windows, quoted(true, c.word))
	}
}

// A shell takes the words apart again as they were.
func TestQuotedInAShell(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("its shell is another; TestQuoted says what it is given")
	}
	for _, word := range []string{`"fork length" + reach`, "it's $HOME `x`", `a\\b`, `!x`, "*", "~", "a b", "", "#x", "{a,b}", "Mühle [1]"} {
		said, err := exec.CommandContext(t.Context(), "sh", "-c", "printf %s "+quoted(false, word)).Output()
		require.NoError(t, err, word)
		assert.Equal(t, word, string(said))
	}
}
