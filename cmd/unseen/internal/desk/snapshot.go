package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"net/url"
	"os"
	"strings"
	"sync"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/model"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/sighting"
	"example.org/unseen/history/study"
)

// Options are what a desk is opened with.
type Options struct {
	// Folder is what the page sees; Study the study file in it, or "".
	Folder, Study string
	// Address is host:port that the page is served at.
	Address string
	// ReadOnly has nothing written.
	ReadOnly bool
	Version  string
	// MaxUpload is how many bytes one sending of files may have; 0 means 1 GiB.
	MaxUpload int64
}

// Desk serves the page.
type Desk struct {
	opt    Options
	guard  *guard
	folder *folder
	ctx    context.Context
	stop   context.CancelFunc
	serve  http.Handler

	mu      sync.Mutex // of what follows
	study   string
	last    *snapshot
	answers map[string]*kept
	// drafts is what the tables of a folder without a study propose.
	draftKey string
	drafts   *kept

	edit     sync.Mutex // one edit of the study at a time
	notes    notes
	jobs     jobs
	changes  news // of the files
	watching sync.WaitGroup
}

// studyName is what a study file is called unless the user says otherwise.
const studyName = "study.toml"

// findStudy is the study file of the folder; "" where there is none.
func (d *Desk) findStudy() string {
	if info, err := d.folder.root.Stat(studyName); err == nil && info.Mode().IsRegular() {
		return studyName
	}
	return ""
}

// Earlier versions stand in a folder beside the study, each a file that begins
// with a line of what was done to it and one of the text that this made.
const (
	earlierFolder = ".unseen-earlier"
	mostEarlier   = 50
	doneMark      = "# Kept by unseen open, as it was before this: "
	madeMark      = "# SHA-256 of what it became: "
)

// draftName is the file of what was said, beside where the study will be, so that
// neither a page that is closed nor a program that is killed loses it.
const draftName = earlierFolder + "/.draft.json"

// sayings are what was said on the page of a study that is not written yet, form
// by form; sum is of them as they stand on the disk.
func (d *Desk) sayings() (said []url.Values, sum string) {
	text, err := d.folder.root.ReadFile(draftName)
	if err != nil || json.Unmarshal(text, &said) != nil {
		text, said = nil, nil
	}
	return said, sumOf(text)
}

// shownFirst is how many records of each table are shown as understood.
const shownFirst = 5

// snapshot is a study as it stands on the disk: its text, its tables read, and
// what was worked out from them. It never changes; another text or other data
// make another one.
type snapshot struct {
	// Name of the study file in the folder; "" where it has none.
	Name string
	Text string
	// Sum is the SHA-256 of the text, by which an edit says what it was made on.
	Sum string
	// Study is nil where the text is none, Data where the tables cannot be
	// read; Err says why.
	Study *study.Study
	Data  *analysis.Data
	Err   error

	stamp string // of the text and the files: what is looked at is still there
	kept  *kept  // what was worked out, of the same study and data
}

// kept is what was worked out from a study and its data.
type kept struct {
	mu    sync.Mutex
	items map[any]*item
}

type item struct {
	done    chan struct{}
	value   any
	err     error
	waiting int // how many wait for it
	giveUp  context.CancelFunc
}

// mostKept is how many answers are kept of one study.
const mostKept = 300

// once works something out the first time it is asked for; whoever asks
// meanwhile waits for the same. When nobody waits any more, or life ends, it is
// given up, and worked out anew when it is asked for again.
func once[K comparable, T any](ctx, life context.Context, k *kept, key K, work func(context.Context) (T, error)) (T, error) {
	k.mu.Lock()
	it := k.items[key]
	if it == nil {
		if len(k.items) >= mostKept {
			clear(k.items)
		}
		it = &item{done: make(chan struct{})}
		working, giveUp := context.WithCancel(life)
		it.giveUp = giveUp
		k.items[key] = it
		go func() {
			defer close(it.done)
			defer giveUp()
			if it.value, it.err = guarded(func() (T, error) { return work(working) }); errors.Is(it.err, context.Canceled) {
				k.mu.Lock()
				k.forget(key, it)
				k.mu.Unlock()
			}
		}()
	}
	it.waiting++
	k.mu.Unlock()
	select {
	case <-it.done:
		v, _ := it.value.(T)
		return v, it.err
	case <-ctx.Done():
		k.mu.Lock()
		if it.waiting--; it.waiting == 0 && it.giveUp != nil {
			it.giveUp()
			k.forget(key, it)
		}
		k.mu.Unlock()
		var none T
		return none, ctx.Err()
	}
}

// forget lets go of an item, unless there is another one in its place.
func (k *kept) forget(key any, it *item) {
	if k.items[key] == it {
		delete(k.items, key)
	}
}

// current is the study as it stands now.
func (d *Desk) current() *snapshot {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.study == "" {
		if d.study = d.findStudy(); d.study == "" {
			_, sum := d.sayings()
			return &snapshot{Sum: sum, kept: &kept{items: map[any]*item{}}}
		}
	}
	s := &snapshot{Name: d.study}
	text, err := d.folder.root.ReadFile(d.study)
	if err != nil {
		s.Err = fmt.Errorf("%s cannot be read: %w", d.study, err)
		if errors.Is(err, fs.ErrNotExist) {
			s.Name, d.study = "", ""
		}
		s.kept = &kept{items: map[any]*item{}}
		return s
	}
	s.Text = string(text)
	s.Sum = sumOf(text)
	if s.Study, s.Err = study.Parse(d.folder.join(d.study), text); s.Err == nil {
		var paths []string
		if paths, s.Err = d.folder.paths(s.Study); s.Err == nil {
			s.stamp = s.Sum + s.Study.AsOf.String() + stampOf(paths)
		}
	}
	if was := d.last; was != nil && s.stamp != "" && was.stamp == s.stamp {
		return was
	}
	s.kept = &kept{items: map[any]*item{}}
	if s.Err == nil {
		if s.Data, s.Err = read(d.ctx, s.Study); s.Err == nil {
			s.kept = d.keptOf(s.Data)
		}
	}
	if s.stamp != "" {
		d.last = s
	}
	return s
}

// read reads the tables of a study that has been looked at.
func read(ctx context.Context, st *study.Study) (*analysis.Data, error) {
	return analysis.Read(ctx, st, ingest.Options{First: shownFirst})
}

// keptOf is what was worked out before from the same study and the same data,
// also where the files are other ones meanwhile.
func (d *Desk) keptOf(data *analysis.Data) *kept {
	key := data.Study.SHA256 + data.Study.AsOf.String() // which may be today
	for _, in := range data.Inputs {
		key += in.File + in.SHA256
	}
	if k := d.answers[key]; k != nil {
		return k
	}
	if len(d.answers) >= 20 {
		clear(d.answers)
	}
	k := &kept{items: map[any]*item{}}
	d.answers[key] = k
	return k
}

func sumOf(b []byte) string {
	h := sha256.Sum256(b)
	return hex.EncodeToString(h[:])
}

// stampOf tells files from what they were before, without reading them.
func stampOf(paths []string) string {
	var b strings.Builder
	for _, p := range paths {
		info, err := os.Stat(p)
		if err != nil {
			fmt.Fprintf(&b, "|%s gone", p)
			continue
		}
		fmt.Fprintf(&b, "|%s %d %d", p, info.Size(), info.ModTime().UnixNano())
	}
	return b.String()
}

// options are those of `unseen fit` without flags.
func options() analysis.Options {
	return analysis.Options{Options: cjs.Options{Level: 0.95, Interval: "auto", VarianceInflation: 1}}
}

// fit fits a model to the study, once.
func (s *snapshot) fit(ctx, life context.Context, spec model.Spec) (*analysis.Fitted, error) {
	return once(ctx, life, s.kept, spec, func(ctx context.Context) (*analysis.Fitted, error) { return s.Data.Fit(ctx, spec, options()) })
}

// apart is a fit that can be changed without changing f: sets of replicates and
// the reading of recaptures write into what they are given.
func apart(f *analysis.Fitted) *analysis.Fitted {
	out, data, result := *f, *f.Data, *f.Data.Result
	data.Result, out.Data = &result, &data
	return &out
}

// setAside are the records that rules set aside, in the order of the files.
func (s *snapshot) setAside(ctx, life context.Context) ([]sighting.SetAside, error) {
	type key struct{ what string }
	return once(ctx, life, s.kept, key{"set aside"}, func(ctx context.Context) ([]sighting.SetAside, error) {
		var out []sighting.SetAside
		_, err := analysis.Read(ctx, s.Study, ingest.Options{SetAside: func(r sighting.SetAside) error {
			if len(out) < mostShown {
				out = append(out, r)
			}
			return nil
		}})
		return out, err
	})
}

// mostShown is how many records can be leafed through on the page.
const mostShown = 200_000

// mark tells what is looked at from what it was, as the page has it.
func (d *Desk) mark() string {
	s := d.current()
	if s.Name == "" {
		files, _, _ := d.folder.list()
		return sumOf(fmt.Append(nil, files, s.Sum))[:16]
	}
	return sumOf(fmt.Append(nil, s.Sum, s.stamp, s.Err))[:16]
}
