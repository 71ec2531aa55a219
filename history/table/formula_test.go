package table_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/history/table"
	"example.org/unseen/testdata/pieces"
)

func TestFormulasAreMadeHarmlessAndTakenBack(t *testing.T) {
	for in, want := range map[string]string{
		`=HYPERLINK("http://x")`: `'=HYPERLINK("http://x")`,
		"+cmd|' /C calc'!A0":     "'+cmd|' /C calc'!A0",
		"-2+3":                   "'-2+3",
		"@SUM(A1)":               "'@SUM(A1)",
		"\t=1":                   "'\t=1",
		"'=1":                    "''=1",
		"''@x":                   "'''@x",
		// what runs as nothing
		"-12.5": "-12.5", "+3": "+3", "-1e-3": "-1e-3", "-": "-", "": "", "Scar Weir": "Scar Weir", "'tis": "'tis", "'": "'", "a=b": "a=b",
	} {
		assert.Equal(t, want, table.Harmless(in))
		assert.Equal(t, in, table.TakenBack(want), "taken back")
	}
	x := open(t, "tag,'=note\n'=1+1,'tis\n-5,''=x\n")
	assert.Equal(t, []string{"tag", "=note"}, x.Header)
	require.True(t, x.Next())
	assert.Equal(t, "=1+1", x.Field(0))
	assert.Equal(t, "'tis", x.Field(1))
	require.True(t, x.Next())
	assert.Equal(t, "-5", x.Field(0))
	assert.Equal(t, "'=x", x.Field(1))
}

var someFormulas = []string{"=1", "''=x", "-5", "'-5", "+", "'"}

func FuzzHarmless(f *testing.F) { pieces.Fuzz(f, sameTakenBack, someFormulas...) }

func TestComposedFormulas(t *testing.T) { pieces.Texts(t, 10_000, sameTakenBack, someFormulas...) }

func sameTakenBack(t *testing.T, s string) {
	require.Equal(t, s, table.TakenBack(table.Harmless(s)))
}
