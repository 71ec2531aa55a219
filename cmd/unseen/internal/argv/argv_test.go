package argv

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/urfave/cli/v2"
)

func app() *cli.App {
	return &cli.App{Name: "unseen", Commands: []*cli.Command{
		{Name: "fit", Flags: []cli.Flag{
			&cli.StringFlag{Name: "model"}, &cli.Float64Flag{Name: "level"},
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
