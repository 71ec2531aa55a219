package propose_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/encoding/unicode/utf32"

	"example.org/unseen/history/ingest"
)

// However the tables are encoded and their lines end, the study proposed reads
// the same histories, names of sites among them.
func TestEncodingChangesNoHistory(t *testing.T) {
	sites := []string{"Mühlwehr", "Österfors", "Mündung"}
	histories := func(encode func(string) (string, error)) string {
		dir := readerFile(t, "Zeitpunkt,Gerät,Straße,Märke", "Märke,Freilaßung,Länge",
			func(tag string, site, antenna int, at time.Time, _ *rand.Rand) []string {
				return []string{at.Format("2006-01-02 15:04:05"), fmt.Sprint(antenna + 1), sites[site], tag}
			})
		for _, name := range []string{"array.csv", "fish.csv"} {
			text, err := os.ReadFile(filepath.Join(dir, name))
			require.NoError(t, err)
			coded, err := encode(string(text))
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(coded), 0o644))
		}
		p, st := guessIn(t, dir, dir)
		assert.Equal(t, []string{"Straße"}, st.Sightings[0].Columns["site"], p.Study)
		res, err := ingest.Run(context.Background(), st, ingest.Options{})
		require.NoError(t, err)
		require.Equal(t, res.Accounting.Read, res.Accounting.Kept+res.Accounting.Repeats)
		return fmt.Sprintf("%+v", res.Histories) // it holds NaN
	}
	want := histories(func(s string) (string, error) { return s, nil })
	assert.Contains(t, want, "Mühlwehr")
	for name, encode := range map[string]func(string) (string, error){
		"Windows-1252":         charmap.Windows1252.NewEncoder().String,
		"UTF-16":               unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder().String,
		"UTF-16 the other way": unicode.UTF16(unicode.BigEndian, unicode.UseBOM).NewEncoder().String,
		"UTF-32":               utf32.UTF32(utf32.LittleEndian, utf32.UseBOM).NewEncoder().String,
		"old line ends":        func(s string) (string, error) { return strings.ReplaceAll(s, "\n", "\r"), nil },
	} {
		assert.Equal(t, want, histories(encode), name)
	}
}
