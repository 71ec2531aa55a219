package desk

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"path"
	"slices"
	"strconv"
	"strings"

	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/history/study"
	"example.org/unseen/history/study/edit"
)

// errMeanwhile: the study is not the one that an edit was made on.
var errMeanwhile = errors.New("the study was changed meanwhile, on another page or in an editor; nothing was written. This is how it stands now: look at it, and do it again")

// rewrite puts another text in the place of the study file, whole or not at all.
// sum is of the text that the change was made on; what says what was done, for
// undo. The text before is kept beside the study.
func (d *Desk) rewrite(sum, what string, change func(name string, text []byte) ([]byte, error)) error {
	d.edit.Lock()
	defer d.edit.Unlock()
	return d.locked(sum, func(name string, text []byte) error {
		next, err := change(d.folder.join(name), text)
		if err != nil {
			return err
		}
		if bytes.Equal(next, text) {
			return nil
		}
		st, err := study.Parse(d.folder.join(name), next)
		if err != nil {
			return err
		}
		if _, err := d.folder.paths(st); err != nil {
			return err
		}
		if err := d.keep(name, what, text, sumOf(next)); err != nil {
			return fmt.Errorf("the study was not changed, for it could not be kept as it was: %w", err)
		}
		return d.put(name, next)
	})
}

// locked gives the study's text to f while no other program of ours writes into
// its folder.
func (d *Desk) locked(sum string, f func(name string, text []byte) error) error {
	name := d.current().Name
	if name == "" {
		return fmt.Errorf("there is no study file to change")
	}
	info, err := d.folder.root.Lstat(name)
	if err != nil {
		return err
	}
	if !info.Mode().IsRegular() {
		return fmt.Errorf("%s is a link; open the page for the file itself to change it", name)
	}
	if err := d.folder.within(d.folder.join(path.Dir(name))); err != nil {
		return err
	}
	unlock, err := atomicfile.Lock(d.folder.join(path.Dir(name)))
	if err != nil {
		return err
	}
	defer unlock()
	text, err := d.folder.root.ReadFile(name)
	if err != nil {
		return err
	}
	if sumOf(text) != sum {
		return errMeanwhile
	}
	return f(name, text)
}

// put writes a file of the study's folder, whose lock the caller holds, or of the
// folder of earlier versions.
func (d *Desk) put(name string, text []byte) error {
	if dir := path.Dir(name); path.Base(dir) == earlierFolder {
		unlock, err := atomicfile.Lock(d.folder.join(dir))
		if err != nil {
			return err
		}
		defer unlock()
	}
	return atomicfile.Replace(d.folder.join(name), func(w io.Writer) error {
		_, err := w.Write(text)
		return err
	})
}

// mkdir makes a folder in that of the study, where it is not there yet.
func (d *Desk) mkdir(dir string) error {
	if err := d.folder.root.Mkdir(dir, 0o777); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	return d.folder.within(d.folder.join(dir))
}

// version is an earlier text of the study.
type version struct {
	name string // of its file
	what string
	made string // SHA-256 of the text it became
	text []byte
}

// versions are the earlier ones of a study, the oldest first.
func (d *Desk) versions(study string) ([]version, error) {
	dir := path.Join(path.Dir(study), earlierFolder)
	files, err := fs.ReadDir(d.folder.root.FS(), dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var out []version
	for _, f := range files {
		if !strings.HasPrefix(f.Name(), "."+path.Base(study)+".") || !f.Type().IsRegular() {
			continue
		}
		v := version{name: path.Join(dir, f.Name())}
		text, err := d.folder.root.ReadFile(v.name)
		if err != nil {
			return nil, err
		}
		first, rest, _ := bytes.Cut(text, []byte("\n"))
		second, rest, ok := bytes.Cut(rest, []byte("\n"))
		var a, b bool
		if v.what, a = strings.CutPrefix(string(first), doneMark); !a || !ok {
			continue
		}
		if v.made, b = strings.CutPrefix(string(second), madeMark); !b {
			continue
		}
		v.text = rest
		out = append(out, v)
	}
	return out, nil
}

// keep writes an earlier version down, and lets go of those beyond the most that
// are kept.
func (d *Desk) keep(study, what string, text []byte, made string) error {
	have, err := d.versions(study)
	if err != nil {
		return err
	}
	next := 1
	if n := len(have); n > 0 {
		fmt.Sscanf(have[n-1].name[strings.LastIndexByte(have[n-1].name, '.')+1:], "%d", &next)
		next++
	}
	dir := path.Join(path.Dir(study), earlierFolder)
	if err := d.mkdir(dir); err != nil {
		return err
	}
	what = strings.Join(strings.Fields(what), " ")
	all := slices.Concat([]byte(doneMark+what+"\n"+madeMark+made+"\n"), text)
	if err := d.put(path.Join(dir, fmt.Sprintf(".%s.%06d", path.Base(study), next)), all); err != nil {
		return err
	}
	for len(have) >= mostEarlier {
		if err := d.folder.root.Remove(have[0].name); err != nil {
			return err
		}
		have = have[1:]
	}
	return nil
}

// before is the version that the study became the text at hand from; nil where
// the page did not make it so.
func (d *Desk) before(study, sum string) (*version, []version) {
	have, err := d.versions(study)
	if err != nil {
		return nil, nil
	}
	for i := range slices.Backward(have) {
		if have[i].made == sum {
			return &have[i], have[i:]
		}
	}
	return nil, nil
}

// lastEdit is what undo would take back; "" where there is nothing.
func (d *Desk) lastEdit(s *snapshot) string {
	if d.opt.ReadOnly {
		return ""
	}
	if s.Name == "" {
		return d.lastSaid()
	}
	if v, _ := d.before(s.Name, s.Sum); v != nil {
		return v.what
	}
	return ""
}

// lastSaid is what undo would take back of a study that is not written yet.
func (d *Desk) lastSaid() string {
	if said, _ := d.sayings(); len(said) > 0 {
		return said[len(said)-1].Get("words")
	}
	return ""
}

// edits makes a change of the study by changes of its keys.
func edits(changes ...edit.Change) func(string, []byte) ([]byte, error) {
	return func(name string, text []byte) ([]byte, error) {
		f, err := edit.Parse(name, text)
		if err != nil {
			return nil, err
		}
		if err := f.Apply(changes...); err != nil {
			return nil, err
		}
		return f.Bytes(), nil
	}
}

// written are the lines of a text that are not in another.
func written(before, after string) []string {
	have := map[string]int{}
	for _, l := range strings.Split(before, "\n") {
		have[strings.TrimSpace(l)]++
	}
	var out []string
	for _, l := range strings.Split(after, "\n") {
		if t := strings.TrimSpace(l); have[t] > 0 {
			have[t]--
		} else if t != "" {
			out = append(out, t)
		}
	}
	return out
}

// done is a change of the study with what it does, in words.
type done struct {
	what string
	make func(name string, text []byte) ([]byte, error)
}

// noted is an address with something to be said there.
func (d *Desk) noted(address string, x note) string {
	n := &d.notes
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.said == nil || len(n.said) > 100 {
		n.said = map[string]note{}
	}
	n.next++
	key := strconv.Itoa(n.next)
	n.said[key] = x
	path, query, _ := strings.Cut(address, "?")
	q, err := url.ParseQuery(query)
	if err != nil || path == "" {
		path, q = "/", url.Values{}
	}
	q.Set("note", key)
	return path + "?" + q.Encode()
}
