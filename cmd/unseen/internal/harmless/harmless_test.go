package harmless

import (
	"bytes"
	"encoding/json"
	"io"
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
		"a\x9b2J\xff�b":       `a\x9b2J\xff�b`,
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

// Written byte by byte, or all at once, JSON is escaped alike.
func TestDocument(t *testing.T) {
	const text = "{\"name\": \"Ånga 川 \u202e\u2066x\"}\n"
	for _, step := range []int{1, 2, 3, 5, len(text)} {
		var out bytes.Buffer
		require.NoError(t, Document(func(w io.Writer) error {
			for i := 0; i < len(text); i += step {
				n, err := io.WriteString(w, text[i:min(len(text), i+step)])
				require.Equal(t, min(len(text), i+step)-i, n)
				require.NoError(t, err)
			}
			return nil
		})(&out))
		assert.Equal(t, "{\"name\": \"Ånga 川 \\u202e\\u2066x\"}\n", out.String(), step)
	}
}
