package wire

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history/study"
)

// Whatever the study file says of sites and tags that the records do not is listed.
func TestDeclarations(t *testing.T) {
	s, err := study.Parse("study.toml", []byte(`
time_zone = "Europe/Dublin"
last_day = 2025-06-01
[fish]
file = "fish.csv"
cohort = "week"
[[sightings]]
files = ["a.csv"]
site = "Alder Ford"
clock = [{ seconds = -3600, from = 2025-04-20 }]
[[site]]
name = "Mill Lade"
[[site]]
name = "Alder Ford"
rows = { upper = ["north"], lower = ["south"] }
working = { upper = [[2025-04-01, 2025-04-18T06:00:00]] }
[[site]]
name = "Tidehead"
clock = [{ seconds = 90.5 }]
[[test_passes]]
site = "Tidehead"
passes = 40
read = 27
where = { week = "2" }
[[hold]]
reach = "Mill Lade to Alder Ford"
survival = 0.9
[[hold]]
site = "Alder Ford"
row = "lower"
detection = 0.5
[retention]
held = 100
kept = 98
[rules]
test_tags = ["999000000000001"]
ghost_tags = ["999000000000002"]
off = ["parked"]
`))
	require.NoError(t, err)
	assert.Equal(t, []Declaration{
		{"last day", "", "2025-06-01"},
		{"clock", "a.csv", "−3,600 s, from 2025-04-20 00:00:00 (Europe/Dublin)"},
		{"working", "Alder Ford/upper", "from 2025-04-01 00:00:00 to 2025-04-18 06:00:00 (Europe/Dublin)"},
		{"clock", "Tidehead", "+90.5 s"},
		{"test passes", "Tidehead", "27 of 40 read, week 2"},
		{"held", "Mill Lade to Alder Ford", "survival 0.9"},
		{"held", "Alder Ford/lower", "detection 0.5"},
		{"tags kept", "", "98 of 100"},
		{"test tags", "", "999000000000001"},
		{"ghost tags", "", "999000000000002"},
		{"rule off", "", "parked"},
	}, DeclarationsOf(s))
	assert.Empty(t, DeclarationsOf(&study.Study{}))
}
