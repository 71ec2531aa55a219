package propose

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/history/table"
)

// Files of one reading are named by the simplest pattern that finds them and
// nothing else that is there.
func TestPatternsFindTheFilesAlone(t *testing.T) {
	for _, x := range []struct {
		files, others []string
		want          string
	}{
		{[]string{"a/1.csv", "a/2.csv", "a/3.csv"}, []string{"fish.csv", "b/1.csv", "a/1.txt"}, `"a/*.csv"`},
		{[]string{"1.csv", "2.csv", "3.csv"}, nil, `"*.csv"`},
		{[]string{"1.csv", "2.csv", "3.csv"}, []string{"fish.csv"}, `"1.csv", "2.csv", "3.csv"`},
		{[]string{"weir 0501.txt", "weir 0502.txt", "weir 0503.txt"}, []string{"ford 0501.txt"}, `"weir *.txt"`},
		{[]string{"weir 0501.txt", "weir 0502.txt", "weir 0503.txt"}, []string{"weir notes.txt"}, `"weir 0501.txt", "weir 0502.txt", "weir 0503.txt"`},
		{[]string{"log/01/a.txt", "log/02/a.txt", "log/03/b.txt"}, []string{"log/a.txt"}, `"log/*/*.txt"`},
		{[]string{"log/01/a.txt", "log/02/a.txt", "log/03/b.txt"}, []string{"log/04/c.txt"}, `"log/01/a.txt", "log/02/a.txt", "log/03/b.txt"`},
		{[]string{"a/1.csv", "a/2.csv"}, nil, `"a/1.csv", "a/2.csv"`},
		{[]string{"a/[1].csv", "a/[2].csv", "a/[3].csv"}, nil, `"a/[1].csv", "a/[2].csv", "a/[3].csv"`},
		{[]string{"a/1.csv", "a/2.csv", "a/3.tsv"}, nil, `"a/1.csv", "a/2.csv", "a/3.tsv"`},
	} {
		g := &guess{found: append(append([]string{}, x.files...), x.others...)}
		var files []*sample
		for _, n := range x.files {
			files = append(files, &sample{file: table.File{Name: n}})
		}
		assert.Equal(t, x.want, g.fileList(files))
	}
}
