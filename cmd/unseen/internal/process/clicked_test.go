package process

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A double click opens the page; a call, a pipe and a job at night do not.
func TestDoubleClickIsTold(t *testing.T) {
	const home = "/Users/someone"
	finder := launch{system: "darwin", args: []string{home + "/Downloads/unseen/unseen"}, terminal: true, home: home, here: home}
	explorer := launch{system: "windows", args: []string{`C:\unseen\unseen.exe`}, terminal: true, home: `C:\Users\someone`, here: `C:\unseen`, programs: 1}
	with := func(s launch, change func(*launch)) launch { change(&s); return s }
	for _, c := range []struct {
		about string
		start launch
		want  bool
	}{
		{"Finder", finder, true},
		{"Finder, of a program in the home folder", with(finder, func(s *launch) { s.args = []string{home + "/unseen"} }), true},
		{"a command in a terminal of a Mac", with(finder, func(s *launch) { s.args = []string{"unseen"} }), false},
		{"a relative path in a terminal of a Mac", with(finder, func(s *launch) { s.args = []string{"./unseen"} }), false},
		{"in another folder", with(finder, func(s *launch) { s.here = home + "/Documents" }), false},
		{"a job of a Mac at night: no terminal", with(finder, func(s *launch) { s.terminal = false }), false},
		{"no home folder is known", with(finder, func(s *launch) { s.home, s.here = "", "" }), false},
		{"Explorer", explorer, true},
		{"in the console of a shell", with(explorer, func(s *launch) { s.programs = 2 }), false},
		{"a service, without a console", with(explorer, func(s *launch) { s.programs = 0 }), false},
		{"Linux", launch{system: "linux", args: []string{"/home/someone/unseen"}, terminal: true, home: "/home/someone", here: "/home/someone"}, false},
		{"Linux, by a file manager", launch{system: "linux", args: []string{"/home/someone/unseen"}, home: "/home/someone", here: "/home/someone"}, false},
	} {
		assert.Equal(t, c.want, c.start.clicked(), c.about)
		c.start.args = append([]string{c.start.args[0]}, "--help")
		assert.False(t, c.start.clicked(), "%s, with an argument", c.about)
	}
	assert.False(t, Clicked(), "a test was not double clicked")
}

func TestFolderOfADoubleClick(t *testing.T) {
	const program, home = "/opt/unseen", "/home/someone"
	documents := filepath.Join(home, "Documents")
	for _, c := range []struct {
		about    string
		folders  []string
		canWrite bool
		home     string
		want     string
		made     bool
	}{
		{"its own folder", nil, true, home, program, false},
		{"the folder for studies beside it", []string{filepath.Join(program, studyFolder)}, true, home, filepath.Join(program, studyFolder), false},
		{"an archive as it was unpacked", []string{filepath.Join(program, "licences")}, true, home, filepath.Join(program, studyFolder), true},
		{"installed where nobody may write", []string{documents}, false, home, filepath.Join(documents, "unseen"), true},
		{"the second time", []string{documents, filepath.Join(documents, "unseen")}, false, home, filepath.Join(documents, "unseen"), false},
		{"without documents", nil, false, home, filepath.Join(home, "unseen"), true},
		{"without a home", nil, false, "", program, false},
	} {
		folder, made := clickedFolder(program, c.home, func(s string) bool {
			for _, f := range c.folders {
				if f == s {
					return true
				}
			}
			return false
		}, func(string) bool { return c.canWrite })
		assert.Equal(t, c.want, folder, c.about)
		assert.Equal(t, c.made, made, c.about)
	}
	dir := t.TempDir()
	assert.True(t, canWrite(dir))
	assert.False(t, canWrite(filepath.Join(dir, "nowhere")))
	left, err := filepath.Glob(filepath.Join(dir, ".*"))
	require.NoError(t, err)
	assert.Empty(t, left, "trying whether a folder can be written leaves something there")
}
