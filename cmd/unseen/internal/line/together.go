package line

import (
	"strings"

	"github.com/urfave/cli/v2"
)

// together are flags that say nothing without another, by command; a partner may be
// with the value it needs.
var together = map[string]map[string]string{
	"fit": {
		"replicates": "interval bootstrap", "method": "interval bootstrap", "seed": "interval bootstrap",
		"save": "interval bootstrap", "save-every": "save",
	},
	"plan":     {"alpha": "power", "chance": "power", "seed": "verify"},
	"simulate": {"index": "out"},
}

// Together refuses a flag that would be passed over, for what it is about was not
// asked for.
func Together(c *cli.Context) error {
	for _, flag := range c.LocalFlagNames() {
		partner, ok := together[c.Command.Name][flag]
		name, value, valued := strings.Cut(partner, " ")
		if ok && (!c.IsSet(name) || valued && c.String(name) != value) {
			return Errorf("--%s is about --%s; give that too", flag, partner)
		}
	}
	return nil
}
