package ingest

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Unknown tags are named with their records, and where else they stand in the
// fish table, as second tags do.
func TestUnknownTagsAreNamed(t *testing.T) {
	fish := "tag,released,other,code,length_mm\n985141421300001,2025-04-03T20:00Z,985141421390001,,120\n985141421300002,2025-04-03T20:00Z,,3D9.20ED5F28B2,121\n"
	array := head + "985141421390001,Tidehead,x,2025-04-05 10:00:00\n985141421390001,Tidehead,x,2025-04-05 10:00:09\n985141421390002,Tidehead,x,2025-04-05 11:00:00\n985141421399999,Tidehead,x,2025-04-05 11:00:00\n"
	res, _ := one(t, "", fish, array, Options{})
	f := found(res, "unknown_tag")
	require.Len(t, f, 1)
	assert.Equal(t, `985141421390001 (2), 985141421390002 (1), 985141421399999 (1); column "other" of the fish table holds 1 of them, read 2 times; column "code" of the fish table holds 1 of them, read 1 times`, f[0].About)
	assert.Equal(t, `second tags of fish tagged twice? Say second_tag = "other" under [fish]`, f[0].Advice)

	res, _ = one(t, "", "tag,released,length_mm\n985141421300001,2025-04-03T20:00Z,120\n", array, Options{})
	f = found(res, "unknown_tag")
	require.Len(t, f, 1)
	assert.Equal(t, "985141421390001 (2), 985141421390002 (1), 985141421399999 (1)", f[0].About)
	assert.Equal(t, "nothing, if these are other people's fish; else complete the fish table", f[0].Advice)
}
