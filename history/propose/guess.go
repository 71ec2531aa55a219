package propose

import (
	"slices"
	"strings"

	"example.org/unseen/history"
	"example.org/unseen/history/clock"
	"example.org/unseen/history/tagindex"
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
	d := history.Say("0 of %d records are sightings of these fish: are the right table and column taken for the fish and for the tags?", records)
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
	g.doubts = append(g.doubts, history.Say(format, args...))
}

// ask notes a doubt that a key of the study file settles.
func (g *guess) ask(about, format string, args ...any) {
	g.doubt(format, args...)
	if g.about == nil {
		g.about = map[string]string{}
	}
	g.about[g.doubts[len(g.doubts)-1]] = about
}

// saidOf is what was said of a table by its name.
func (g *guess) saidOf(name string) *Said {
	if s, ok := g.said[name]; ok {
		return &s
	}
	return &Said{}
}

// isKnown tells a tag of the fish table.
func (g *guess) isKnown(tag string) bool { _, ok := g.known[tag]; return ok }

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

func (g *guess) tag(t *sample) int {
	if i, ok := t.told("tag"); ok {
		return i
	}
	if g.text {
		return t.textTag
	}
	return t.tagColumn()
}

// secondTag is the column of the fish table with second tags; -1 where there is
// none.
func (g *guess) secondTag(tag int) int {
	if i, ok := g.fish.told("second_tag"); ok {
		return i
	}
	return slices.IndexFunc(g.fish.columns, func(c sampleColumn) bool {
		return !g.text && c.name != g.fish.columns[tag].name && c.mostly(c.tags) && len(c.values) == c.filled
	})
}

// codes are the tags of a column in the form tags are shown in.
func (g *guess) codes(c *sampleColumn) map[string]bool {
	form, out := tagindex.Form{Text: g.text}, map[string]bool{}
	for written := range c.values {
		if tag, _, err := form.Canonical(written); err == nil {
			out[tag] = true
		}
	}
	return out
}
