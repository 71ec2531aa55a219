package study

import (
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Where files are that a study names, on either system, whatever system this is.
func TestNamesOfOtherSystems(t *testing.T) {
	for _, c := range []struct {
		file          string
		unix, windows string // the path, or with ! what is said
	}{
		{`fish.csv`, `/s/fish.csv`, `D:\s\fish.csv`},
		{`arrays/a.csv`, `/s/arrays/a.csv`, `D:\s\arrays\a.csv`},
		{`arrays\a.csv`, `/s/arrays/a.csv`, `D:\s\arrays\a.csv`},
		{`arrays\*.txt`, `/s/arrays/*.txt`, `D:\s\arrays\*.txt`},
		{`..\2024\Grüße.csv`, `/s/../2024/Grüße.csv`, `D:\s\..\2024\Grüße.csv`},
		{`odd\name.csv`, `/s/odd\name.csv`, `D:\s\odd\name.csv`}, // a file called so
		{`a\[1\].csv`, `/s/a\[1\].csv`, `D:\s\a\[1\].csv`},
		{`\[1\].csv`, `/s/\[1\].csv`, `D:\[1\].csv`},
		{`/mnt/share/reads.csv`, `/mnt/share/reads.csv`, `D:\mnt\share\reads.csv`},
		{`\data\reads.csv`, `!root of a drive`, `D:\data\reads.csv`},
		{`C:\data\x.csv`, `!path on a drive of Windows`, `C:\data\x.csv`},
		{`c:/data/x.csv`, `!path on a drive of Windows`, `c:\data\x.csv`},
		{`C:x.csv`, `!without the folder`, `!without the folder`},
		{`C:`, `!without the folder`, `!without the folder`},
		{`E:really.csv`, `/s/E:really.csv`, `!without the folder`}, // a file called so
		{`\\server\share\study\x.csv`, `!network share`, `\\server\share\study\x.csv`},
		{`//server/share/study/x.csv`, `//server/share/study/x.csv`, `\\server\share\study\x.csv`},
		{``, ``, ``},
	} {
		for _, windows := range []bool{false, true} {
			dir, want := "/s", c.unix
			if windows {
				dir, want = `D:\s`, c.windows
			}
			path, wrong := locate(windows, func(p string) bool { return p == `/s/odd\name.csv` || p == "/s/E:really.csv" }, dir, c.file)
			if said, refused := strings.CutPrefix(want, "!"); refused {
				assert.Contains(t, wrong, said, "%s, windows %v", c.file, windows)
				assert.Empty(t, path)
				continue
			}
			assert.Equal(t, want, path, "%s, windows %v", c.file, windows)
			assert.Empty(t, wrong, c.file)
		}
	}
	path, _ := locate(true, nil, `\\server\share\study`, `\other\x.csv`)
	assert.Equal(t, `\\server\share\other\x.csv`, path)
	path, _ = locate(true, nil, `.`, `\other\x.csv`)
	assert.Equal(t, `\other\x.csv`, path, "on the drive that is at hand")
}

// A study with the line ends of Windows and a mark, and what it says of a name
// that is none here.
func TestStudyOfWindows(t *testing.T) {
	dir := t.TempDir()
	text := "[fish]\nfile = 'fish.csv'\n[sightings]\nfiles = ['arrays\\a.csv']\n[[site]]\nname = \"A\"\n[[site]]\nname = \"B\"\n"
	for _, form := range []string{text, strings.ReplaceAll(text, "\n", "\r\n"), "\xef\xbb\xbf" + strings.ReplaceAll(text, "\n", "\r\n")} {
		s, err := Parse(filepath.Join(dir, "study.toml"), []byte(form))
		require.NoError(t, err)
		require.Equal(t, filepath.Join(dir, "arrays", "a.csv"), s.Sightings[0].Files[0])
	}
	_, err := Parse("study.toml", []byte(strings.Replace(text, "fish.csv", "C:fish.csv", 1)))
	require.ErrorContains(t, err, `study.toml:2: "C:fish.csv" names a drive without the folder in it`)
}

// What some systems take for one name is found where it is the only one.
func TestNamesThatDifferInCaseOrAccents(t *testing.T) {
	const composed, apart = "Gr\u00fc\u00dfe", "Gru\u0308\u00dfe" // ü, and u with its accent as a sign of its own
	if FoldName(composed) != FoldName(apart) || FoldName("Fish.CSV") != "fish.csv" {
		t.Fatal("names that a Mac takes for one are two")
	}
	dir := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "Arrays", apart), 0o755))
	for _, name := range []string{"Fish.CSV", "Arrays/" + apart + "/a.csv"} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), nil, 0o644))
	}
	at := func(written string) string { return (&decoder{}).found(Pos{}, dir, written) }
	shown := func(path string) string { return filepath.Join(dir, filepath.FromSlash(path)) }
	if runtime.GOOS == "linux" { // elsewhere the system itself may take them for one
		assert.Equal(t, shown("Fish.CSV"), at("fish.csv"))
		assert.Equal(t, shown("Arrays/"+apart+"/a.csv"), at(`arrays\`+composed+`\A.csv`))
		assert.Equal(t, shown("Arrays/"+apart+"/*.csv"), at("arrays/"+composed+"/*.csv"))
		require.NoError(t, os.WriteFile(filepath.Join(dir, "FISH.csv"), nil, 0o644))
	}
	assert.Equal(t, shown("Fish.CSV"), at("Fish.CSV"), "the one called so")
	assert.Equal(t, shown("fish.csv"), at("fish.csv"), "of two none is taken for it")
	assert.Equal(t, shown("none.csv"), at("none.csv"))
	assert.Equal(t, shown("none/*/x.csv"), at("none/*/x.csv"))
}
