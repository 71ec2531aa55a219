package ready

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
	"example.org/unseen/testdata/pieces"
)

var someHistories = []string{
	"fish,cohort,length,removed,A,B/u,B/l,C,count,released\nf1,c1,71,,1,0,1,1,2,2025-04-01\nf2,c2,NA,B,0,1,0,0,1,\n",
	"A,B/u,B/l,C\n1,0,0,0\n0,0,0,1\n0,0,0,0\n",
	"cohort,release_site,released,B,C\nx,A,100,40,20\nx,B,50,,25\ny,A,9,,\n",
	"release_site,released,B,C\nA,3,2,2\nC,1,1,1\n",
}

func FuzzHistories(f *testing.F) { pieces.Fuzz(f, takenOrFaulty(f), someHistories...) }

func TestComposedHistories(t *testing.T) { pieces.Texts(t, 300, takenOrFaulty(t), someHistories...) }

// takenOrFaulty reads any bytes as a table of histories and as a next-seen
// table: they are taken, and then hold together, or every fault has its line.
func takenOrFaulty(t testing.TB) func(t *testing.T, data []byte) {
	parse := func(text string) *study.Study {
		st, err := study.Parse("s.toml", []byte(text))
		require.NoError(t, err)
		return st
	}
	sites := "[[site]]\nname = \"A\"\n[[site]]\nname = \"B\"\n"
	ready := parse("[histories]\nfile = \"t.csv\"\n" + sites + "rows = [\"u\", \"l\"]\n[[site]]\nname = \"C\"\n")
	counts := parse("[next_seen]\nfile = \"t.csv\"\n" + sites + "[[site]]\nname = \"C\"\n")
	return func(t *testing.T, data []byte) {
		for _, c := range []struct {
			st    *study.Study
			take  func(*study.Study, *table.Table) (*history.Histories, error)
			count string
		}{{ready, readHistories, "count"}, {counts, readNextSeen, "released"}} {
			x, err := table.New("t.csv", bytes.NewReader(data))
			if err != nil {
				return // of this FuzzTable thinks
			}
			h, err := c.take(c.st, x)
			require.NoError(t, x.Close())
			if err != nil {
				var faults *history.Faults
				require.ErrorAs(t, err, &faults)
				require.NotEmpty(t, faults.List)
				for _, f := range faults.List {
					require.Equal(t, "t.csv", f.Pos.File)
					require.Positive(t, f.Pos.Line)
				}
				continue
			}
			holdsTogether(t, h)
			require.Equal(t, fishIn(t, data, c.count), fishOf(h), "every fish of the table is one of the histories")
		}
	}
}

// fishIn is how many fish a sound table holds.
func fishIn(t *testing.T, data []byte, column string) (n float64) {
	x, err := table.New("t.csv", bytes.NewReader(data))
	require.NoError(t, err)
	defer x.Close()
	count := x.Column(column)
	for x.Next() {
		v, ok := 1.0, true
		if count >= 0 {
			v, ok = x.Number(count)
		}
		require.True(t, ok)
		n += v
	}
	return n
}

func fishOf(h *history.Histories) (n float64) {
	for i := range h.Len() {
		n += float64(h.Weight(i))
	}
	return n
}

// holdsTogether checks what every reader of histories relies on.
func holdsTogether(t *testing.T, h *history.Histories) {
	n := h.Len()
	require.Positive(t, n)
	require.NoError(t, h.Check())
	require.Len(t, h.Seen, n)
	require.Len(t, h.End, n)
	require.Len(t, h.Cohort, n)
	for _, k := range h.Cohort {
		require.Less(t, int(k), len(h.Cohorts))
	}
	for _, c := range h.Columns {
		require.True(t, len(c.Level) == n || len(c.Value) == n)
	}
	masks := h.River.SiteMasks()
	for i := range n {
		require.Less(t, int(h.Entry[i]), len(masks))
		require.Positive(t, h.Weight(i))
		var below uint64
		for k := int(h.Entry[i]) + 1; k < len(masks); k++ {
			below |= masks[k]
		}
		require.Zero(t, h.Seen[i]&^below, "only rows below the entry are seen")
	}
}
