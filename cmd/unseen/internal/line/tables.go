package line

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/harmless"
	"example.org/unseen/cmd/unseen/internal/tablefile"
	"example.org/unseen/cmd/unseen/internal/view"
)

// TableFlags are the forms in which tables are saved, of every command that has any.
func TableFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "csv", Usage: "write each table as a CSV file into `DIR`, besides"},
		&cli.BoolFlag{Name: "decimal-comma", DisableDefaultText: true, Usage: "with --csv: decimal commas, and semicolons between fields"},
		&cli.StringFlag{Name: "xlsx", Usage: "write all tables into the workbook `FILE`, each as a sheet, besides"},
		ForceFlag(),
	}
}

// saved are the tables that the line wants saved, on their way into files. The
// zero value wants none.
type saved struct {
	set  *atomicfile.Set     // of --csv
	book *tablefile.Workbook // of --xlsx
	dir  string
	file string
	to   []tablefile.Files
	// early are tables begun before those of a page, which come first all the same.
	early []string
	ctx   context.Context // rows are taken until it ends
	end   []func()
}

// BeginTables begins the files of --csv and --xlsx; they appear with [saved.Commit].
func BeginTables(c *cli.Context) (*saved, error) {
	s := &saved{dir: c.String("csv"), file: c.String("xlsx"), ctx: c.Context}
	if c.Bool("decimal-comma") && s.dir == "" {
		return nil, Errorf("--decimal-comma is about the files of --csv DIR; give it too")
	}
	var err error
	if s.dir != "" {
		if s.set, err = atomicfile.NewSet(s.dir, atomicfile.Rule{}); err != nil {
			return nil, s.Worded(err)
		}
		s.set.Tables = true
		s.end = append(s.end, s.set.Discard)
		s.to = append(s.to, tablefile.CSV{Set: s.set, Comma: c.Bool("decimal-comma")})
	}
	if s.file != "" {
		// A large sheet is kept on the disk until it is packed.
		dir, remove, err := atomicfile.MkdirTemp()
		if err != nil {
			s.Discard()
			return nil, err
		}
		s.end = append(s.end, remove)
		if s.book, err = tablefile.NewWorkbook(dir); err != nil {
			s.Discard()
			return nil, err
		}
		s.end = append(s.end, func() { s.book.Close() })
		s.to = append(s.to, s.book)
	}
	return s, nil
}

// Discard leaves nothing behind of what was not committed.
func (s *saved) Discard() {
	for i := len(s.end) - 1; i >= 0; i-- {
		s.end[i]()
	}
	s.end = nil
}

// Wanted tells whether anything is to be saved.
func (s *saved) Wanted() bool { return len(s.to) > 0 }

// Worded says which flag an error is of.
func (s *saved) Worded(err error) error {
	switch {
	case err == nil:
		return nil
	case s.dir == "":
		return fmt.Errorf("--xlsx %s: %w", s.file, err)
	case s.file == "":
		return fmt.Errorf("--csv %s: %w", s.dir, err)
	}
	return fmt.Errorf("--csv %s --xlsx %s: %w", s.dir, s.file, err)
}

// Begin implements [tablefile.Files] for all of them.
func (s *saved) Begin(id string, columns []string) (tablefile.Rows, error) {
	s.early = append(s.early, id)
	all := rowsOfAll{ctx: s.ctx}
	for _, f := range s.to {
		r, err := f.Begin(id, columns)
		if err != nil {
			return nil, err
		}
		all.rows = append(all.rows, r)
	}
	return all, nil
}

// rowsOfAll go to each, until the context ends.
type rowsOfAll struct {
	ctx  context.Context
	rows []tablefile.Rows
}

func (all rowsOfAll) Add(row []tablefile.Value) error {
	if err := all.ctx.Err(); err != nil {
		return err
	}
	for _, r := range all.rows {
		if err := r.Add(row); err != nil {
			return err
		}
	}
	return nil
}

func (all rowsOfAll) End() error {
	var errs []error
	for _, r := range all.rows {
		errs = append(errs, r.End())
	}
	return errors.Join(errs...)
}

// Commit adds the tables of a page, and with --csv what files writes besides, which
// may be nil; then the files appear.
func (s *saved) Commit(c *cli.Context, from analysis.Source, p view.Page, files func(*atomicfile.Set) error) error {
	defer s.Discard()
	if !s.Wanted() {
		return nil
	}
	if s.set != nil && files != nil {
		if err := files(s.set); err != nil {
			return s.Worded(err)
		}
	}
	early := s.early
	if err := tablefile.Add(s, p.Saved(from)); err != nil {
		return s.Worded(err)
	}
	rule := OutputRule(c, from)
	if s.set != nil {
		s.set.Keep(rule)
		if err := s.set.Commit(); err != nil {
			return s.Worded(err)
		}
		s.sayLeft(c.App.ErrWriter)
	}
	if s.book != nil {
		for _, id := range early {
			if err := s.book.Last(id); err != nil {
				return s.Worded(err)
			}
		}
		return s.Worded(atomicfile.Write(s.file, rule, s.book.Write))
	}
	return nil
}

// sayLeft tells of the tables of earlier runs: numbers that are none of this one's.
func (s *saved) sayLeft(w io.Writer) {
	dir := harmless.Escape(s.dir)
	if gone := s.set.Left.Removed; len(gone) > 0 {
		fmt.Fprintf(w, "--csv %s: removed what an earlier run wrote there and this one does not: %s.\n", dir, strings.Join(gone, ", "))
	}
	if kept := s.set.Left.Kept; len(kept) > 0 {
		fmt.Fprintf(w, "--csv %s: of an earlier run, and changed or in use since, so kept: %s. This run did not write %s.\n",
			dir, strings.Join(kept, ", "), map[bool]string{true: "it", false: "them"}[len(kept) == 1])
	}
}
