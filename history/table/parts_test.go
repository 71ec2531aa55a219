package table

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/unseen/testdata/pieces"
)

var someParts = []string{
	"a,b\n1,2\n3,4\n5,6\n", "a;b\r\n1,5;x\r\n\r\n2,5;y", "a\tb\n\n1\t2\n\n", "a,b\n1\n", "\n\na,b\n1,2\n", "a,b\n\"1\",2\n", "a,b\n" + strings.Repeat("1,22222222\n", 30),
	"a\n" + strings.Repeat("x", 200) + "\ny\n", "a,a\n1,2\n", "a,\n1,2\n", "\ufeffa\n1\n", "\ufeff\ufeffa\n1\n", "a\n\xe9\n",
	"a;b\n" + strings.Repeat("1,5;x\n", 20) + "2.5;y\n1,25;z\n",
}

func FuzzParts(f *testing.F) { pieces.Fuzz(f, sameInParts(f), someParts...) }

func TestComposedParts(t *testing.T) {
	check := sameInParts(t)
	pieces.Texts(t, 200, check, someParts...)
	pieces.Each(t, 200, func(c *pieces.Composer) { check(t, []byte(c.Cells(","))) })
}

// sameInParts reads a table in small parts and as one: where the parts suffice,
// both say the same.
func sameInParts(t testing.TB) func(t *testing.T, text []byte) {
	path := filepath.Join(t.TempDir(), "t.csv")
	return func(t *testing.T, text []byte) {
		require.NoError(t, os.WriteFile(path, text, 0o644))
		defer os.Remove(path) // to write it anew is slow
		p := openParts(context.Background(), path, 0, max(64, len(text)/1000))
		if p == nil {
			return
		}
		defer p.Close()
		one, err := New(path, bytes.NewReader(text))
		require.NoError(t, err)
		require.Equal(t, one.Delimiter, p.Head().Delimiter)
		type record struct {
			line   int
			fields string
		}
		records := func(x *Table) []record {
			out := []record{}
			for x.Next() {
				said := strings.Join(x.fields, "\x00")
				for i := range x.Header {
					if v, numeric, ok := x.number(i); numeric {
						said += fmt.Sprint("\x00", i, v, ok)
					}
				}
				out = append(out, record{x.Line(), said})
			}
			return out
		}
		want := records(one)
		start := records(p.Start())
		require.GreaterOrEqual(t, len(want), len(start))
		if one.Err() == nil {
			require.Equal(t, want[:len(start)], start)
		}
		got := []record{}
		for n := 0; ; n++ {
			x, number := p.Next()
			if x == nil {
				break
			}
			require.Equal(t, n, number)
			got = append(got, records(x)...)
			p.Took(x)
		}
		whole, ok := p.Whole()
		require.Equal(t, one.Header, whole.Header)
		if !ok {
			return
		}
		require.Equal(t, one.Notes(), whole.Notes())
		require.NoError(t, one.Err())
		require.Equal(t, want, got)
		require.Equal(t, one.Input().SHA256, whole.Input().SHA256)
	}
}
