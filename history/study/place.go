package study

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"

	"golang.org/x/text/unicode/norm"
)

// FoldName is a name of a file without what file systems make nothing of: the
// case of letters, and whether an accent is part of its letter or a sign of its
// own, as a Mac may write it. Names that differ in no more are one on Windows and
// on most Macs.
func FoldName(name string) string { return strings.ToLower(norm.NFC.String(name)) }

// found finds a file or pattern of files that the study names, from its folder.
func (d *decoder) found(pos Pos, dir, written string) string {
	path, wrong := locate(runtime.GOOS == "windows", there, dir, written)
	if wrong != "" {
		d.fault(pos, "%q %s", written, wrong)
	}
	if path == "" {
		return ""
	}
	path = filepath.Clean(path)
	head, tail := path, ""
	if !there(path) {
		head, tail = cutPattern(path)
	}
	return asThere(head) + tail
}

func (d *decoder) foundAll(pos Pos, dir string, written []string) (out []string) {
	for _, w := range written {
		out = append(out, d.found(pos, dir, w))
	}
	return out
}

func there(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}

var (
	escaped = regexp.MustCompile(`\\[?\[\]\\]`)
	drive   = regexp.MustCompile(`^[A-Za-z]:`)
)

// locate finds a file named in a study from the study's folder. A study moves
// between systems: one written on Windows may part folders by backslashes, which
// elsewhere are taken for slashes, unless a file is called so, or they take the
// meaning off a sign of a pattern. What the other system cannot have is wrong, in
// words that follow the name: a drive, a share.
func locate(windows bool, there func(string) bool, dir, file string) (path, wrong string) {
	isDrive := drive.MatchString(file)
	rooted := strings.HasPrefix(file, `\`) && !escaped.MatchString(file[:min(2, len(file))])
	share := strings.HasPrefix(file, `\\`)
	sep := "/"
	if windows {
		sep = `\`
		file = strings.ReplaceAll(file, "/", sep)
		rooted = strings.HasPrefix(file, `\`)
		share = strings.HasPrefix(file, `\\`)
	}
	joined := strings.TrimSuffix(dir, sep) + sep + file
	switch {
	case file == "":
		return "", ""
	case !windows && strings.HasPrefix(file, "/"):
		return file, ""
	case !windows && there(joined):
		return joined, ""
	case isDrive && (len(file) == 2 || !strings.ContainsRune(`/\`, rune(file[2]))):
		return "", "names a drive without the folder in it, and what that is changes from hour to hour; write the path from the study's folder, or all of it, such as C:/data/fish.csv"
	case windows && (isDrive || share):
		return file, ""
	case windows && rooted:
		return volume(dir) + file, ""
	case isDrive:
		return "", "is a path on a drive of Windows, which is not there on this system; put the file beside the study and name it by its path from there"
	case share:
		return "", "is a network share as Windows names it; mount it and name the file by its path here, or put the file beside the study"
	case rooted:
		return "", "begins at the root of a drive of Windows, which is not there on this system; name the file by its path from the study's folder"
	case !windows && !escaped.MatchString(file):
		joined = strings.ReplaceAll(joined, `\`, "/")
	}
	return joined, ""
}

// volume is the drive or share that a path on Windows begins with.
func volume(dir string) string {
	if drive.MatchString(dir) {
		return dir[:2]
	}
	if parts := strings.SplitN(strings.TrimPrefix(dir, `\\`), `\`, 3); strings.HasPrefix(dir, `\\`) && len(parts) > 1 {
		return `\\` + parts[0] + `\` + parts[1]
	}
	return ""
}

// cutPattern parts a path before the first folder or file that is a pattern.
func cutPattern(path string) (head, tail string) {
	i := strings.IndexAny(path, "*?[")
	if i < 0 {
		return path, ""
	}
	i = strings.LastIndexByte(path[:i], filepath.Separator)
	if i <= 0 {
		return "", path
	}
	return path[:i], path[i:]
}

// asThere is the path of a file that is there, where it is there under a name that
// only some systems take for another.
func asThere(path string) string {
	if _, err := os.Lstat(path); path == "" || !errors.Is(err, fs.ErrNotExist) {
		return path
	}
	dir, name := filepath.Dir(path), filepath.Base(path)
	if dir == path {
		return path
	}
	dir = asThere(dir)
	entries, err := os.ReadDir(dir)
	if err != nil {
		return path
	}
	found := ""
	for _, e := range entries {
		if FoldName(e.Name()) == FoldName(name) {
			if found != "" {
				return path // which of the two cannot be told
			}
			found = e.Name()
		}
	}
	if found == "" {
		return path
	}
	return filepath.Join(dir, found)
}
