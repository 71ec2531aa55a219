package process

import (
	"os"
	"path"
	"path/filepath"
	"runtime"
)

// launch is how the program was started, as far as the system tells.
type launch struct {
	system     string // as [runtime.GOOS] has it
	args       []string
	terminal   bool   // the standard input is one
	home, here string // folders
	programs   int    // in the console, on Windows; 0 elsewhere
}

// launched tells how this program was started.
func launched() launch {
	s := launch{system: runtime.GOOS, args: os.Args, programs: inConsole()}
	s.home, _ = os.UserHomeDir()
	s.here, _ = os.Getwd()
	if in, err := os.Stdin.Stat(); err == nil {
		s.terminal = in.Mode()&os.ModeCharDevice != 0
	}
	return s
}

// Clicked tells whether this program was started by a double click.
func Clicked() bool { return launched().clicked() }

// clicked tells whether it was by a double click. Explorer gives a program a
// console of its own, in which it is the only one. Finder has a new terminal run
// it by its whole path, in the home folder. On other systems a double click
// cannot be told from a start by another program.
func (s launch) clicked() bool {
	if len(s.args) != 1 {
		return false
	}
	switch s.system {
	case "windows":
		return s.programs == 1
	case "darwin":
		return s.terminal && s.home != "" && s.here == s.home && path.IsAbs(s.args[0])
	}
	return false
}

// studyFolder is the folder, beside the program, that whoever double clicks puts
// a study into.
const studyFolder = "study"

// clickedFolder is the folder whose page a double click opens, given that of the
// program: study in it, where that is there, or where the program lies among the
// licences that it came with; else the program's own; else, where nothing can be
// written there, as where programs are installed, unseen among the documents.
// made: it is to be made.
func clickedFolder(program, home string, isFolder, canWrite func(string) bool) (folder string, made bool) {
	if in := filepath.Join(program, studyFolder); isFolder(in) {
		return in, false
	}
	if canWrite(program) || home == "" {
		if isFolder(filepath.Join(program, "licences")) {
			return filepath.Join(program, studyFolder), true
		}
		return program, false
	}
	if documents := filepath.Join(home, "Documents"); isFolder(documents) {
		home = documents
	}
	folder = filepath.Join(home, "unseen")
	return folder, !isFolder(folder)
}

// ClickedFolder is the folder whose page a double click opens, which is made
// where it is to be.
func ClickedFolder() (string, error) {
	self, err := os.Executable()
	if err != nil {
		return "", err
	}
	home, _ := os.UserHomeDir()
	folder, made := clickedFolder(filepath.Dir(self), home, isFolder, canWrite)
	if made {
		err = os.Mkdir(folder, 0o777)
	}
	return folder, err
}

func isFolder(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.IsDir()
}

// canWrite tells whether files can be made in a folder, by making one.
func canWrite(folder string) bool {
	f, err := os.CreateTemp(folder, ".unseen-*")
	if err != nil {
		return false
	}
	f.Close()
	return os.Remove(f.Name()) == nil
}
