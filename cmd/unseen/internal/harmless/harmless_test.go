package harmless

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestEscape(t *testing.T) {
	for in, want := range map[string]string{
		"Ånga 川 −5 %\n\tnext": "Ånga 川 −5 %\n\tnext",
		"a\x1b[2Jb\r\x00":     `a\u001b[2Jb\u000d\u0000`,
		"evil\u202etxt.exe":   `evil\u202etxt.exe`,
		"\u2066x\u2069\u200f": `\u2066x\u2069\u200f`,
		"c1 \u009b31m\u007f":  `c1 \u009b31m\u007f`,
		"line\u2028end":       `line\u2028end`,
	} {
		assert.Equal(t, want, Escape(in))
	}
}

// In JSON the escaped text is the same value.
func TestEscapedJSONIsTheSame(t *testing.T) {
	in := "a\x1bb\u202ec\u007f\u009bd"
	b, err := json.Marshal(in)
	require.NoError(t, err)
	var out string
	require.NoError(t, json.Unmarshal([]byte(Escape(string(b))), &out))
	assert.Equal(t, in, out)
}
