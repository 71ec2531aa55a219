package main

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"strconv"
	"strings"
	"sync"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/replicate"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/progress"
	"example.org/unseen/cmd/unseen/internal/session"
)

// bootstrapFlags are those of fit --interval bootstrap.
func bootstrapFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "replicates", Value: "1-1000", DefaultText: "1-1000", Usage: "bootstrap: make replicates `FROM-TO`"},
		&cli.StringFlag{Name: "method", Value: replicate.Parametric, DefaultText: "parametric", Usage: "bootstrap: `METHOD` parametric or \"by fish\""},
		&cli.Uint64Flag{Name: "seed", Value: 1, Usage: "bootstrap: `SEED` of the random numbers"},
		&cli.StringFlag{Name: "save", Usage: "bootstrap: keep replicates in `FILE`, go on with one begun"},
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
		return 0, 0, callError("--replicates is %q; it is a number, or from-to such as 501-1000", words)
	}
	return from, to, nil
}

// bootstrap makes the replicates that the line asks for and gives the fit its
// intervals by them. Interrupted, it keeps in --save what is done.
func bootstrap(c *cli.Context, f *session.Fitted) error {
	from, to, err := fromTo(c.String("replicates"))
	if err != nil {
		return err
	}
	opt := replicate.Options{Method: c.String("method"), Seed: c.Uint64("seed")}
	if opt.Method != replicate.Parametric && opt.Method != replicate.ByFish {
		return callError("--method is %q; it is %s or %q", opt.Method, replicate.Parametric, replicate.ByFish)
	}
	file := c.String("save")
	if file != "" {
		if opt.Have, err = readReplicates(file); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	bar := progress.New(c.App.ErrWriter, "refitting", "replicates")
	var mu sync.Mutex
	var done int64
	opt.Done = func() {
		mu.Lock()
		defer mu.Unlock()
		done++
		bar.Update(done, int64(to-from+1), done)
	}
	set, err := replicate.Run(c.Context, f.Fit, from, to, opt)
	bar.Done()
	if set != nil && file != "" && len(set.Replicates) > 0 {
		if saved := saveReplicates(file, set); saved != nil {
			return errors.Join(saved, err)
		}
	}
	if err != nil {
		return err
	}
	f.Replicated(set)
	return nil
}

func readReplicates(file string) (*replicate.Set, error) {
	text, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	return replicate.Read(bytes.NewReader(text), file)
}

func saveReplicates(file string, s *replicate.Set) error {
	return atomicfile.Replace(file, s.Write)
}
