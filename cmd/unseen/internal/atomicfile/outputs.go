package atomicfile

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"example.org/unseen/history/study"
)

// Rule is what a set may do to files that are there. The zero value replaces
// only what a command made and nobody changed since.
type Rule struct {
	// Inputs are files that were read: never replaced. Those that are not
	// there are no matter.
	Inputs []string
	// Reads, where not nil, tells why a file laid at a path would be read as
	// data by the study at hand, or "".
	Reads func(path string) string
	// Force replaces files that no command made, or that were changed since.
	Force bool
}

// outputsName is the file, beside what commands wrote, that says what they did.
const outputsName = ".unseen-outputs.json"

// outputs are the files of one folder that commands wrote, by name, each with
// the SHA-256 in hex of what they wrote: the last, and the one before while a
// kill in between may have left it.
type outputs struct {
	Kind    string              `json:"kind"`
	Version int                 `json:"version"`
	Files   map[string][]string `json:"files"`
	// Tables are those of Files that one set of tables wrote, the last one, and
	// what is left of earlier ones.
	Tables []string `json:"tables,omitempty"`

	dir    string
	unlock func()
}

const (
	outputsKind    = "unseen/outputs"
	outputsVersion = 1
)

// openOutputs reads what was written into a folder, and locks it against other
// processes until it is unlocked.
func openOutputs(dir string) (*outputs, error) {
	unlock, err := Lock(dir)
	if err != nil {
		return nil, err
	}
	o, err := readOutputs(dir)
	if err != nil {
		unlock()
		return nil, err
	}
	o.unlock = unlock
	return o, nil
}

// readOutputs is [openOutputs] without the lock.
func readOutputs(dir string) (*outputs, error) {
	o := &outputs{dir: dir}
	path := filepath.Join(dir, outputsName)
	text, err := study.ReadFile(path, study.LargestStudy)
	if err == nil {
		if err = json.Unmarshal(text, o); err == nil && (o.Kind != outputsKind || o.Version != outputsVersion) {
			err = fmt.Errorf("kind %q version %d", o.Kind, o.Version)
		}
		if err != nil {
			return nil, fmt.Errorf("%s says which files were written here, and cannot be read: %w; delete it, and use --force once", path, err)
		}
	} else if !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	o.Kind, o.Version = outputsKind, outputsVersion
	if o.Files == nil {
		o.Files = map[string][]string{}
	}
	return o, nil
}

// sums are those of what was written to a file, also where that was by a name that
// only this system takes for the same.
func (o *outputs) sums(target string, is os.FileInfo) []string {
	name := filepath.Base(target)
	if sums := o.Files[name]; sums != nil {
		return sums
	}
	for k, sums := range o.Files {
		if study.FoldName(k) == study.FoldName(name) {
			if info, err := os.Stat(filepath.Join(filepath.Dir(target), k)); err == nil && os.SameFile(info, is) {
				return sums
			}
		}
	}
	return nil
}

// allows says why f must not be put in place, and notes in o what will stand
// there.
func (r Rule) allows(f *file, o *outputs) error {
	was, err := r.permits(f.target, f.through, o)
	if err != nil || f.through {
		return err
	}
	sums := []string{f.sha256()}
	if was != "" && was != sums[0] {
		sums = append(sums, was)
	}
	o.Files[filepath.Base(f.target)] = sums
	return nil
}

// permits says why nothing may be put in the place of target; made is the sum of
// what is there, where a command made it.
func (r Rule) permits(target string, through bool, o *outputs) (made string, err error) {
	if base := filepath.Base(target); base == outputsName || base == lockName {
		return "", refuse("%s is a name that unseen keeps for what it notes of its outputs; choose another name", target)
	}
	if r.Reads != nil {
		if why := r.Reads(target); why != "" {
			return "", refuse("%s: %s; choose another folder", target, why)
		}
	}
	old, err := os.Stat(target)
	if err == nil {
		for _, in := range r.Inputs {
			if info, err := os.Stat(in); err == nil && os.SameFile(old, info) {
				return "", refuse("%s is one of the files that were read, and no input is ever replaced; choose another name", target)
			}
		}
	}
	switch {
	case through, errors.Is(err, fs.ErrNotExist):
		return "", nil
	case err != nil:
		return "", err
	case old.IsDir():
		return "", refuse("%s is a folder; choose another name", target)
	}
	was, err := sumOf(target)
	switch {
	case err != nil:
		return "", err
	case slices.Contains(o.sums(target, old), was):
		return was, nil
	case !r.Force:
		return "", refuse("%s is already there, and no command of unseen made it as it is now: nothing of yours is overwritten; choose another name, or replace it with --force", target)
	}
	return "", nil
}

// Check says in advance what [Write] would refuse, as far as it is known by then,
// and whether a file can be made there; nothing is left behind.
func Check(path string, rule Rule) error {
	if _, err := folderFor(path); err != nil {
		return err
	}
	target, through, err := resolve(path)
	if err != nil {
		return err
	}
	o := &outputs{}
	if !through {
		if o, err = readOutputs(filepath.Dir(target)); err != nil {
			return err
		}
	}
	if _, err := rule.permits(target, through, o); err != nil || through {
		return err
	}
	dir, err := folderFor(target)
	if err != nil {
		return err
	}
	f, err := createTemp(dir)
	if err != nil {
		return named(err, target)
	}
	f.Close()
	defer forget(f.Name())
	if err := os.Remove(f.Name()); !errors.Is(err, fs.ErrNotExist) { // swept
		return named(err, target)
	}
	return nil
}

// folderFor is the folder that is there, of those a path leads through.
func folderFor(path string) (string, error) {
	for dir := filepath.Dir(path); ; dir = filepath.Dir(dir) {
		info, err := os.Stat(dir)
		switch {
		case err == nil && info.IsDir():
			return dir, nil
		case err == nil:
			return "", refuse("%s is no folder, so there can be no %s; choose another", dir, path)
		case dir == filepath.Dir(dir):
			return "", err
		}
	}
}

func sumOf(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	_, err = io.Copy(h, f)
	return hex.EncodeToString(h.Sum(nil)), err
}
