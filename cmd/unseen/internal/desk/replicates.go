package desk

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"
	"time"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cjs/replicate"
	"example.org/unseen/cjs/simulate"
	"example.org/unseen/cmd/unseen/internal/harmless"
	"example.org/unseen/cmd/unseen/internal/view"
)

const (
	// replicatesMark begins the names of files of replicates beside the study.
	replicatesMark = ".replicates-"
	// mostReplicateFiles is of how many models and data they are kept.
	mostReplicateFiles = 20
	// keepReplicatesEvery is what a kill may cost.
	keepReplicatesEvery = 5 * time.Second
)

// replicatesFile is where the replicates of a model are kept, those of its fit where
// of is "": of this study, these data and this model, so that another never goes on
// with them.
func (s *snapshot) replicatesFile(spec model.Spec, of string) string {
	key := fmt.Sprintf("%s %v %+v%s", s.Data.Study.SHA256, s.Data.Study.AsOf, spec, of)
	for _, in := range s.Data.Inputs {
		key += in.File + in.SHA256
	}
	return path.Join(path.Dir(s.Name), earlierFolder, replicatesMark+sumOf([]byte(key))[:24])
}

// replicatesBefore are those that were kept; nil where there are none that can be
// read.
func (d *Desk) replicatesBefore(s *snapshot, spec model.Spec) *replicate.Set {
	name := s.replicatesFile(spec, "")
	text, err := d.folder.root.ReadFile(name)
	if err != nil {
		return nil
	}
	set, err := replicate.Read(bytes.NewReader(text), name)
	if err != nil {
		return nil
	}
	return set
}

// keepReplicates writes replicates down, whole or not at all.
func (d *Desk) keepReplicates(name string, write func(io.Writer) error) error {
	if err := d.folder.root.Mkdir(path.Dir(name), 0o777); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	if err := d.folder.within(d.folder.join(path.Dir(name))); err != nil {
		return err
	}
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return err
	}
	if err := d.put(name, b.Bytes()); err != nil {
		return err
	}
	return d.fewReplicates(path.Dir(name))
}

// fewReplicates lets go of the replicates that were not touched longest.
func (d *Desk) fewReplicates(dir string) error {
	files, err := fs.ReadDir(d.folder.root.FS(), dir)
	if err != nil {
		return err
	}
	type old struct {
		name string
		at   time.Time
	}
	var all []old
	for _, f := range files {
		if info, err := f.Info(); err == nil && info.Mode().IsRegular() && strings.HasPrefix(f.Name(), replicatesMark) {
			all = append(all, old{path.Join(dir, f.Name()), info.ModTime()})
		}
	}
	slices.SortFunc(all, func(a, b old) int { return a.at.Compare(b.at) })
	for len(all) > mostReplicateFiles {
		if err := d.folder.root.Remove(all[0].name); err != nil {
			return err
		}
		all = all[1:]
	}
	return nil
}

// bootstrapped refits the model to replicates, from those that were made before
// on. When it is stopped those made are summed up; they are kept in any case.
func bootstrapped(ctx context.Context, d *Desk, s *snapshot, spec model.Spec, n int, j *job) (view.Page, error) {
	f, err := s.Data.Fit(ctx, spec, options())
	if err != nil {
		return view.Page{}, err
	}
	opt := replicate.Options{Seed: 1, Done: j.step, Every: keepReplicatesEvery, Have: d.replicatesBefore(s, spec)}
	if !d.opt.ReadOnly {
		opt.Keep = func(set *replicate.Set) error {
			return d.keepReplicates(s.replicatesFile(spec, ""), harmless.Document(set.Write))
		}
	}
	if opt.Have != nil {
		j.at(len(opt.Have.Within(1, n).Replicates), n)
	}
	set, err := f.Replicate(ctx, 1, n, opt)
	if err != nil && set == nil && opt.Have != nil && ctx.Err() == nil {
		// What was kept is of another version of the program: begin anew.
		opt.Have = nil
		j.at(0, n)
		set, err = f.Replicate(ctx, 1, n, opt)
	}
	if err != nil {
		if ctx.Err() == nil || set == nil {
			return view.Page{}, err
		}
		return summed(f, set.Within(1, n))
	}
	return summed(f, f.Replicates)
}

// summed sums up replicates of a fit, which gets its intervals by them.
func summed(f *analysis.Fitted, set *replicate.Set) (view.Page, error) {
	if len(set.Replicates) < 2 {
		return view.Page{}, fmt.Errorf("too few replicates were made to say anything")
	}
	var err error
	f.Replicates = set
	if f.Bootstrap, err = set.Apply(f.Fit); err != nil {
		return view.Page{}, err
	}
	return view.ReplicatePage(f), nil
}

// seasonsFile is where simulated seasons are kept. They are no longer of use to
// another version of the program, which may fit otherwise.
func (d *Desk) seasonsFile(s *snapshot, spec model.Spec) string {
	return s.replicatesFile(spec, " seasons by "+d.opt.Version)
}

// seasonsBefore are those that were kept; an empty result where there are none that
// can be read.
func (d *Desk) seasonsBefore(s *snapshot, spec model.Spec) *simulate.Result {
	r, err := guarded(func() (*simulate.Result, error) {
		text, err := d.folder.root.ReadFile(d.seasonsFile(s, spec))
		if err != nil {
			return nil, err
		}
		return simulate.ReadReplicates(bytes.NewReader(text))
	})
	if err != nil {
		return &simulate.Result{}
	}
	return r
}

// simulated fits the model to made-up seasons of which the truth is known, from
// those that were made before on. They are kept every few seconds or, of many, with
// every tenth more.
func simulated(ctx context.Context, d *Desk, s *snapshot, spec model.Spec, n int, j *job) (view.Page, error) {
	x, err := s.Data.Simulation(ctx, spec, options(), analysis.Simulating{})
	if err != nil {
		return view.Page{}, err
	}
	x.Study.Seed, x.Study.Have = 1, d.seasonsBefore(s, spec)
	had := x.Study.Have.Replicates
	j.at(min(had, n), n)
	for to, more := min(had, n), 8; err == nil && (to < n || x.Result == nil); {
		began := time.Now()
		to = min(n, to+max(more, to/10))
		if x.Result, err = x.Study.Run(ctx, 1, to, j.step); x.Result == nil {
			break
		}
		if time.Since(began) < keepReplicatesEvery/2 {
			more *= 2
		}
		x.Study.Have = x.Result
		if x.Result.Replicates > had && !d.opt.ReadOnly {
			had = x.Result.Replicates
			if e := d.keepReplicates(d.seasonsFile(s, spec), x.Result.WriteReplicates); e != nil {
				return view.Page{}, e
			}
		}
	}
	if err != nil && (ctx.Err() == nil || x.Result == nil || x.Result.Replicates < 2) {
		return view.Page{}, err
	}
	return view.SimulatePage(x), nil
}

// before sums up the replicates of a kind that were kept when the page was open last,
// or the program was killed; none where there are none.
func (l *looking) before(kind string, spec model.Spec) (finding, bool) {
	type key struct {
		what, kind string
		spec       model.Spec
	}
	x, err := once(l.ctx, l.Desk.ctx, l.kept, key{"replicates before", kind, spec}, func(ctx context.Context) (finding, error) {
		if kind == "simulation" {
			have := l.seasonsBefore(l.snapshot, spec)
			if have.Replicates < 2 {
				return finding{}, nil
			}
			x, err := l.Data.Simulation(ctx, spec, options(), analysis.Simulating{})
			if err != nil {
				return finding{}, err
			}
			x.Result = have
			return finding{page: view.SimulatePage(x), steps: have.Replicates, before: true}, nil
		}
		set := l.replicatesBefore(l.snapshot, spec)
		if set == nil {
			return finding{}, nil
		}
		f, err := l.Data.Fit(ctx, spec, options())
		if err != nil {
			return finding{}, err
		}
		p, err := summed(f, set)
		return finding{page: p, steps: len(set.Replicates), before: true}, err
	})
	return x, err == nil && x.before
}
