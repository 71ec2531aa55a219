package propose

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"example.org/unseen/history/clock"
	"example.org/unseen/history/study"
	"example.org/unseen/history/table"
)

// Proposal is a study file made by looking at a user's tables.
type Proposal struct {
	// Study is the text of the study file, with what is not sure as comments.
	Study string
	// Doubts are what the user should confirm, a sentence each.
	Doubts []string
	// Fish is the tagging table and Sightings the array files, from the folder
	// of the study file; Other are tables that seem to be neither.
	Fish      string
	Sightings []string
	Other     []string
}

// OfferAsOf notes that the season seems to run still, with records up to a day.
// as_of is offered as a comment, for it needs km.
func (p *Proposal) OfferAsOf(day string) {
	top, rest, _ := strings.Cut(p.Study, "\n\n[fish]")
	p.Study = top + "\n# as_of = " + day + "   # ? take the # away if the season still runs; every site then needs its km\n\n[fish]" + rest
	p.Doubts = append(p.Doubts, "the season seems to run still: give km at every site and say as_of = "+day)
}

// guess is what was guessed so far.
type guess struct {
	base   string
	tables []*sample
	doubts []string
	unread []string // files, each with the reason

	text      bool // tags are plain text
	fish      *sample
	known     map[string]bool // the tags of the fish table
	sightings []*sample
	other     []string
	columns   map[*sample]columns // of the array files
	release   string              // name of the release site
	sites     []*guessedSite
	rare      []*guessedSite // with so few records that they may be none
	order     clock.Order
	orderSaid string
	offsets   bool // times say their instant
}

func (g *guess) doubt(format string, args ...any) {
	g.doubts = append(g.doubts, fmt.Sprintf(format, args...))
}

func (g *guess) gather(ctx context.Context, paths []string) error {
	st := &study.Study{Path: filepath.Join(g.base, "study.toml"), Sightings: []*study.SightingFiles{{Title: "[sightings]", Files: paths, Written: paths}}}
	files, passed, _, err := table.Files(st)
	if err != nil {
		return errors.New(strings.TrimPrefix(err.Error(), ": [sightings] files: "))
	}
	for _, name := range passed {
		// A folder of a study is read by the usual endings alone; a file that
		// is named by itself is read whatever it is called.
		if slices.Contains(textEndings, strings.ToLower(filepath.Ext(name))) {
			path := filepath.FromSlash(name)
			if !filepath.IsAbs(path) {
				path = filepath.Join(g.base, path)
			}
			files = append(files, table.File{Path: path, Name: name})
		} else if !strings.HasSuffix(name, ".toml") {
			g.unread = append(g.unread, name+" (its ending is none of a table)")
		}
	}
	for _, f := range files {
		if strings.HasSuffix(f.Path, ".toml") {
			continue
		}
		t, err := takeSample(ctx, f, nil)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			g.unread = append(g.unread, fmt.Sprintf("%s (%v)", f.Name, err))
			continue
		}
		g.tables = append(g.tables, t)
	}
	if len(g.tables) == 0 {
		return fmt.Errorf("no table (%s) among %s%s", strings.Join(table.Endings, " "), strings.Join(paths, ", "), g.notRead())
	}
	return nil
}

// textEndings are those of files that readers write and that may be tables.
var textEndings = []string{"", ".log", ".psv", ".dat", ".asc", ".tab", ".prn", ".out"}

// notRead names the files that could not be read, each with the reason.
func (g *guess) notRead() string {
	if len(g.unread) == 0 {
		return ""
	}
	return "; not read: " + strings.Join(g.unread, ", ")
}

// guessedSite is a site as the sightings show it.
type guessedSite struct {
	name        string
	records     int64
	first, last int64
	antennas    map[string]int64
	wins        int // over other sites
}
