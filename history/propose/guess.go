package propose

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"example.org/unseen/history/clock"
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
	// Tables are all, each with what it was taken for.
	Tables []Taken
	// Asks are the doubts again, each with what it is about.
	Asks []Ask
}

// Ask is a doubt with what it is about: the key of the study file that settles
// it, as time_zone, or "" where none does by itself.
type Ask struct{ About, Text string }

// OfferAsOf notes that the season seems to run still, with records up to a day.
// as_of is offered as a comment, for it needs km.
func (p *Proposal) OfferAsOf(day string) {
	top, rest, _ := strings.Cut(p.Study, "\n\n[fish]")
	p.Study = top + "\n# as_of = " + day + "   # ? take the # away if the season still runs; every site then needs its km\n\n[fish]" + rest
	p.Doubts = append(p.Doubts, "the season seems to run still: give km at every site and say as_of = "+day)
}

// NoSightings asks first why none of so many records is of the fish.
func (p *Proposal) NoSightings(records int64) {
	d := fmt.Sprintf("0 of %d records are sightings of these fish: are the right table and column taken for the fish and for the tags?", records)
	p.Doubts = append([]string{d}, p.Doubts...)
	p.Study = strings.Replace(p.Study, "\n# Not sure:\n", "\n# Not sure:\n# - "+d+"\n", 1)
}

// guess is what was guessed so far.
type guess struct {
	base   string
	said   map[string]Said
	tables []*sample
	failed []Taken // that cannot be read
	doubts []string
	about  map[string]string // of doubts, what they are about
	unread []string          // files, each with the reason
	found  []string          // names of all files under the paths

	text      bool // tags are plain text
	fish      *sample
	known     map[string]int64 // the tags of the fish table, with their releases
	sightings []*sample
	other     []string
	left      []string            // of the others, each with the reason
	columns   map[*sample]columns // of the array files
	places    map[*sample]string  // the site of all records of a file, where there is one
	release   string              // name of the release site
	sites     []*guessedSite
	kmKnown   bool                    // the sites have their km
	releaseKm float64                 // of the release site, NaN where not known
	rare      []*guessedSite          // with so few records that they may be none
	orders    map[*sample]clock.Order // of day and month, of the array files
	datesOf   map[*sample]*dated
	fishDates dated
	offsets   bool // times say their instant
}

func (g *guess) doubt(format string, args ...any) {
	g.doubts = append(g.doubts, fmt.Sprintf(format, args...))
}

// ask notes a doubt that a key of the study file settles.
func (g *guess) ask(about, format string, args ...any) {
	g.doubt(format, args...)
	if g.about == nil {
		g.about = map[string]string{}
	}
	g.about[g.doubts[len(g.doubts)-1]] = about
}

func (g *guess) gather(ctx context.Context, paths []string) error {
	files, err := g.files(paths)
	if err != nil {
		return err
	}
	for _, f := range files {
		tables, err := g.takeTables(ctx, f)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			g.unread = append(g.unread, fmt.Sprintf("%s (%v)", f.Name, err))
			g.failed = append(g.failed, Taken{Name: f.Name, File: f.Name, Path: f.Path, Kind: Unused, Reading: g.saidOf(f.Name).Reading, Why: err.Error()})
		}
		g.tables = append(g.tables, tables...)
	}
	if err := g.borrow(ctx); err != nil {
		return err
	}
	if len(g.tables) == 0 {
		return fmt.Errorf("no table (%s) among %s%s", strings.Join(table.Endings, " "), strings.Join(paths, ", "), g.notRead())
	}
	return nil
}

// files are those under the paths that may be tables: all that are named, and in
// folders those of the endings that tables have. The others are noted.
func (g *guess) files(paths []string) (files []table.File, err error) {
	for _, path := range paths {
		info, err := os.Stat(path)
		if err != nil {
			return nil, fmt.Errorf("%q cannot be read: %w", path, err)
		}
		root := path
		if info.IsDir() {
			root += string(filepath.Separator) // has a link to a folder followed
		}
		err = filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			name := nameFrom(g.base, path)
			if err == nil && !d.IsDir() {
				g.found = append(g.found, name)
			}
			switch {
			case err != nil:
				return fmt.Errorf("the folder %q cannot be read: %w", path, err)
			case info.IsDir() && (d.IsDir() || strings.HasPrefix(d.Name(), ".")) || strings.HasSuffix(name, ".toml"):
			case info.IsDir() && table.NoFile(d):
				g.unread = append(g.unread, name+" (it is no file)")
			case !info.IsDir() || table.IsTable(path) || slices.Contains(textEndings, strings.ToLower(filepath.Ext(name))):
				if !slices.ContainsFunc(files, func(f table.File) bool { return filepath.Clean(f.Path) == filepath.Clean(path) }) {
					files = append(files, table.File{Path: path, Name: name})
				}
			default:
				g.unread = append(g.unread, name+" (its ending is none of a table)")
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return files, nil
}

// nameFrom is the name that a study in the folder base has for a file: from there,
// whole where another drive holds it, or where it was named whole and lies
// elsewhere.
func nameFrom(base, path string) string {
	whole := absolute(path)
	rel, err := filepath.Rel(absolute(base), whole)
	if err != nil || filepath.IsAbs(path) && !filepath.IsLocal(rel) {
		rel = whole
	}
	return filepath.ToSlash(rel)
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
	aliases     []string // other spellings of the name
	records     int64
	first, last int64
	antennas    map[string]int64
	wins        int // over other sites
	km          float64
}
