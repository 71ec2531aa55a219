package ingest

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

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

// Unknown tags that are read at the same times of each day, with a reader's clock
// that lies by minutes and reads that are missing, may be test tags. A stranger's
// fish that stays, or comes back, is none.
func TestUnknownTagsThatMayTest(t *testing.T) {
	var b strings.Builder
	b.WriteString(head)
	read := func(tag int, antenna string, at time.Time) {
		fmt.Fprintf(&b, "9851414213900%02d,Tidehead,%s,%s\n", tag, antenna, at.Format(time.DateTime))
	}
	noon := time.Date(2025, 4, 4, 12, 0, 0, 0, time.UTC)
	r := rand.New(rand.NewPCG(5, 19))
	for i := range 20 {
		if i%5 != 3 {
			read(1, "x", noon.AddDate(0, 0, i).Add(time.Duration(i%4)*time.Minute))
		}
		for k := range 4 {
			read(2, "x", noon.AddDate(0, 0, i).Add(time.Duration(6*k)*time.Hour-time.Second))
		}
		read(3, []string{"x", "y"}[i%2], noon.AddDate(0, 0, i))
		read(4, "x", noon.AddDate(0, 0, i).Add(time.Duration(r.IntN(24*60))*time.Minute))
		if i > 15 { // a few at once, and days later at the same time of day
			read(6, "x", noon.Add(time.Duration(i)*time.Second))
			read(6, "x", noon.AddDate(0, 0, 6).Add(time.Duration(i)*time.Second))
		}
		read(5, "x", noon.Add(time.Duration(i)*time.Second+time.Duration(i/19)*96*time.Hour))
	}
	res, _ := one(t, "", "tag,released,length_mm\n985141421300001,2025-04-03T20:00Z,120\n", b.String(), Options{})
	f := found(res, "unknown_tag")
	require.Len(t, f, 1)
	assert.Equal(t, "nothing, if these are other people's fish; else complete the fish table; test tags? These are read at the same times of each day: 985141421390002 every 6 hours, 985141421390001 every 24 hours. "+
		`If so, say under [rules] test_tags = ["985141421390002", "985141421390001"]`, f[0].Advice)
}
