package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/replicate"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/harmless"
	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/cmd/unseen/internal/process"
	"example.org/unseen/cmd/unseen/internal/progress"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history/study"
)

// bootstrapFlags are those of fit --interval bootstrap.
func bootstrapFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "replicates", Value: "1-1000", DefaultText: "1-1000", Usage: "bootstrap: compute replicates `FROM-TO`", Action: func(_ *cli.Context, words string) error {
			_, _, err := fromTo(words)
			return err
		}},
		&cli.StringFlag{Name: "method", Value: replicate.Parametric, DefaultText: "parametric", Usage: "bootstrap: `METHOD` parametric or \"by fish\""},
		line.SeedFlag("bootstrap: `SEED` of the random numbers"),
		&cli.StringFlag{Name: "save", Usage: "bootstrap: keep replicates in `FILE`, and continue from it"},
		&cli.DurationFlag{Name: "save-every", Value: 30 * time.Second, DefaultText: "30s", Usage: "bootstrap: write --save at least every `TIME`"},
	}
}

// fromTo reads "1-500"; a number alone is from 1 to it.
func fromTo(words string) (from, to int, err error) {
	a, b, both := strings.Cut(words, "-")
	if !both {
		a, b = "1", words
	}
	from, errA := strconv.Atoi(strings.TrimSpace(a))
	to, errB := strconv.Atoi(strings.TrimSpace(b))
	if errA != nil || errB != nil || from < 1 || to < from {
		return 0, 0, line.Errorf("--replicates is %q; it is a number, or from-to such as 501-1000", words)
	}
	if to > replicate.MaxIndex || to-from >= replicate.MaxReplicates {
		return 0, 0, line.Errorf("--replicates is %q; it is at most %s at once, and none beyond %s", words, view.Digits(replicate.MaxReplicates, 0), view.Digits(replicate.MaxIndex, 0))
	}
	return from, to, nil
}

// bootstrap makes the replicates that the line asks for and gives the fit its
// intervals by them. --save has what is done every so often, and at the end,
// however it comes.
func bootstrap(c *cli.Context, f *analysis.Fitted) error {
	from, to, err := fromTo(c.String("replicates"))
	if err != nil {
		return err
	}
	opt := replicate.Options{Method: c.String("method"), Seed: c.Uint64("seed")}
	if opt.Method != replicate.Parametric && opt.Method != replicate.ByFish {
		return line.Errorf("--method is %q; it is %s or %q", opt.Method, replicate.Parametric, replicate.ByFish)
	}
	every := c.Duration("save-every")
	if every < 10*time.Millisecond || every > time.Hour {
		return line.Errorf("--save-every is %v; it is from 10ms to 1h, such as 30s", every)
	}
	if file := c.String("save"); file != "" {
		if file, err = saveTo(file); err != nil {
			return err
		}
		if opt.Have, err = readReplicates(file); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		process.Saves()
		opt.Every, opt.Keep = every, (&savedReplicates{file: file}).add
	}
	bar := progress.New(c.App.ErrWriter, "refitting", "replicates")
	opt.Done = bar.Counter(to - from + 1)
	_, err = f.Replicate(c.Context, from, to, opt)
	bar.Done()
	return err
}

func readReplicates(file string) (*replicate.Set, error) {
	text, err := study.ReadFile(file, study.LargestResult)
	if err != nil {
		return nil, err
	}
	return replicate.Read(bytes.NewReader(text), file)
}

// saveTo is the file that --save names, where a link leads to it. What is there
// and no file cannot be added to.
func saveTo(file string) (string, error) {
	info, err := os.Stat(file)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return file, os.MkdirAll(filepath.Dir(file), 0o777)
	case err != nil:
		return "", err
	case !info.Mode().IsRegular():
		return "", line.Errorf("--save %s: it is no file that replicates can be kept in and read again", file)
	}
	return filepath.EvalSymlinks(file)
}

// savedReplicates is a file that replicates are added to, with how it was when
// we wrote it last.
type savedReplicates struct {
	file  string
	wrote os.FileInfo
}

// add puts replicates into the file, to those that another run has put there
// meanwhile.
func (r *savedReplicates) add(s *replicate.Set) error {
	unlock, err := atomicfile.Lock(filepath.Dir(r.file))
	if err != nil {
		return err
	}
	defer unlock()
	all := *s
	if !r.unchanged() {
		if have, err := readReplicates(r.file); err == nil {
			if err := all.Add(have); err != nil {
				return fmt.Errorf("--save %s holds other replicates now: %w", r.file, err)
			}
		} else if !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	if err := atomicfile.Replace(r.file, harmless.Document(all.Write)); err != nil {
		return err
	}
	if len(all.Replicates) == len(s.Replicates) {
		r.wrote, err = os.Stat(r.file)
	}
	return err
}

// unchanged: what is in the file is what we put there, and so in what we put
// there next.
func (r *savedReplicates) unchanged() bool {
	now, err := os.Stat(r.file)
	return err == nil && r.wrote != nil && os.SameFile(now, r.wrote) && now.Size() == r.wrote.Size() && now.ModTime().Equal(r.wrote.ModTime())
}
