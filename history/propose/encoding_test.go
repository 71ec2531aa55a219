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
	"golang.org/x/text/encoding/japanese"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/encoding/unicode/utf32"

	"example.org/unseen/history/ingest"
)

// However the tables are encoded and their lines end, the study proposed reads
// the same histories, names of sites among them.
func TestEncodingChangesNoHistory(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
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

// The encodings of other scripts are told, for the names of sites.
func TestEncodingsOfOtherScripts(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for name, c := range map[string]struct {
		enc         *charmap.Charmap
		fish, array string
		sites       []string
	}{
		"windows-1251": {enc: charmap.Windows1251, fish: "Метка,Выпуск,Длина", array: "Время,Антенна,Место,Метка", sites: []string{"Брод", "Плотина", "Устье"}},
		"windows-1250": {enc: charmap.Windows1250, fish: "Znaczek,Wypuszczenie,Długość", array: "Czas,Czytnik,Położenie,Znaczek", sites: []string{"Bród", "Śluza", "Ujście"}},
		"shift_jis":    {fish: "タグ,放流,体長", array: "時刻,受信機,地点,タグ", sites: []string{"上流", "堰", "河口"}},
		"ibm850":       {enc: charmap.CodePage850, fish: "Märke,Utsläpp,Längd", array: "Tid,Läsare,Ställe,Märke", sites: []string{"Sjöbäck", "Dämme", "Mynning å"}},
		"":             {enc: charmap.Windows1252, fish: "Märke,Utsläpp,Längd", array: "Tid,Läsare,Ställe,Märke", sites: []string{"Övre", "Dämme", "Åmynning"}},
	} {
		dir := readerFile(t, c.array, c.fish, func(tag string, site, antenna int, at time.Time, _ *rand.Rand) []string {
			return []string{at.Format("2006-01-02 15:04:05"), fmt.Sprint(antenna + 1), c.sites[site], tag}
		})
		for _, file := range []string{"array.csv", "fish.csv"} {
			text, err := os.ReadFile(filepath.Join(dir, file))
			require.NoError(t, err)
			var coded string
			if c.enc != nil {
				coded, err = c.enc.NewEncoder().String(string(text))
			} else {
				coded, err = japanese.ShiftJIS.NewEncoder().String(string(text))
			}
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(filepath.Join(dir, file), []byte(coded), 0o644))
		}
		p, st := guessIn(t, dir, dir)
		assert.Equal(t, name, st.Sightings[0].Encoding, p.Study)
		assert.Equal(t, name, st.Fish.Encoding)
		var sites []string
		for _, s := range st.Sites[1:] {
			sites = append(sites, s.Name)
		}
		assert.Equal(t, c.sites, sites, p.Study)
		res, err := ingest.Run(context.Background(), st, ingest.Options{})
		require.NoError(t, err)
		assert.Equal(t, res.Accounting.Read, res.Accounting.Kept+res.Accounting.Repeats)
	}
}
