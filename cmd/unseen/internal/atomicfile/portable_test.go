package atomicfile

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestPortable(t *testing.T) {
	for _, name := range []string{"fish.csv", "Grüße 2025.csv", "console.csv", "com.csv", "com10.csv", "a.b.c", "nul-1.csv", "COMA.csv", "ＣＯＮ.csv"} {
		assert.True(t, Portable(name), name)
	}
	for _, name := range []string{"", "CON", "con.csv", "Nul.tar.gz", "com1.csv", "LPT9", "com².csv", "aux .csv", "a:b.csv", "a?.csv", "a*.csv", `a\b.csv`, "a/b.csv", "a.", "a ", "a\x01.csv", ".hidden", "a|b", `"a"`} {
		assert.False(t, Portable(name), name)
	}
}
