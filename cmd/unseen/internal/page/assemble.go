package page

import (
	"math"
	"path/filepath"
	"slices"
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/assess"
	"example.org/unseen/cmd/unseen/internal/argv"
	"example.org/unseen/cmd/unseen/internal/figure"
	"example.org/unseen/cmd/unseen/internal/view"
)

// Figures are all figures of a report, in reading order.
func (c *Content) Figures() []*figure.Figure {
	out := []*figure.Figure{figure.Passage(c.Fitted), figure.River(c.Fitted), figure.PassedBy(c.Fitted), figure.Lengths(c.Data), figure.Flow(c.Data),
		figure.Survival(c.Fitted), figure.SurvivalPer100Km(c.Fitted), figure.Detection(c.Fitted), figure.Weeks(c.Fitted)}
	out = append(out, figure.Effects(c.Fitted)...)
	if c.Compare != nil {
		out = append(out, figure.Forest(c.Data, c.Compare))
	}
	if c.Assess != nil {
		out = append(out, figure.Fit(c.Fitted, c.Assess, c.Covariates)...)
	}
	out = append(out, figure.Tracks(c.Data))
	if c.Travel != nil {
		out = append(out, figure.Arrivals(c.Fitted), figure.Cumulative(c.Fitted), figure.TravelTimes(c.Data, c.Travel))
	}
	if c.Season != nil {
		out = append(out, figure.Replay(c.Data, c.Season.Days))
	}
	var pages []*figure.Figure
	for _, f := range out {
		if f != nil {
			pages = append(pages, f.Pages()...)
		}
	}
	return pages
}

// places say under which part, and there under which heading, a figure stands,
// by the beginning of its ID; "" is the part's end.
var places = []struct{ id, part, heading string }{
	{"river", "data", ""},
	{"passed-by-model", "models", ""},
	{"passed-by-", "estimates", view.HeadingPassed},
	{"observed-and-expected", "fit", ""},
	{"fifths-of-", "fit", "Detected again, by fifths of each number"},
	{"length-seen", "histories", ""},
	{"tracks", "travel", ""},
	{"flow", "histories", ""},
	{"survival", "estimates", view.HeadingSurvival},
	{"detection", "estimates", view.HeadingDetection}, // and by week
	{"effect-", "estimates", view.HeadingEffects},
	{"arrivals", "travel", "Arrivals"},
	{"travel", "travel", "The law of travel"},
	{"replay", "season", ""},
}

// Assemble makes the report.
func Assemble(c *Content) Report {
	r := Report{Title: c.Source().Name(), Stamp: view.Stamp(c.Data), Answer: view.Answer(c.Fitted), Heed: c.heed()}
	rest := c.Figures()
	if len(rest) > 0 && rest[0].ID == "passage" {
		r.Lead, rest = rest[0], rest[1:]
	}
	if c.Fit.Verdict != cjs.Converged {
		r.Answer = append([]string{"The fit did not converge: do not use these numbers."}, r.Answer...)
	}
	add := func(id, heading string, blocks []Block) {
		blocks = withFigures(blocks, id, rest)
		for i := range blocks {
			blocks[i].Section = view.StampedSection(c.Source(), blocks[i].Section)
		}
		if len(blocks) > 0 {
			r.Parts = append(r.Parts, Part{ID: id, Heading: heading, Blocks: blocks})
		}
	}
	if c.Changes != nil {
		add("changes", "What has changed", blocks(c.Changes.Sections))
	}
	add("data", "What data went in", blocks(view.CheckPage(c.Data, nil).Sections))
	add("histories", "Detection histories", c.histories())
	add("estimates", "Estimates", c.estimates())
	if c.Compare != nil {
		add("models", "Which model the data support", blocks(c.models()))
	}
	if c.Assess != nil {
		add("fit", "Does the model fit?", blocks(view.AssessPage(c.Fitted, c.Assess, c.Covariates, false).Sections))
	}
	if c.Travel != nil {
		add("travel", "Travel and arrival", blocks(view.TravelPage(c.Data, c.Travel).Sections))
	}
	if c.Season != nil {
		add("season", "The season, day by day", blocks(view.SeasonPage(c.Season).Sections))
	}
	if c.Growth != nil {
		add("growth", "Lengths, weights and growth", blocks(view.GrowthPage(c.Data, c.Growth, c.Recaptures).Sections))
	}
	add("cannot", "What cannot be said", c.cannot())
	assumptions := view.Assumptions().Sections
	assumptions[0].Heading = "What a fit assumes"
	add("cautions", "Assumptions and cautions", blocks(append(assumptions, c.cautions())))
	add("methods", "Methods, ready to paste", c.methods())
	add("again", "How to get these numbers again", c.again())
	return r
}

// withFigures puts the figures of a part under their headings: those of one
// that is not there at the part's beginning.
func withFigures(blocks []Block, part string, figures []*figure.Figure) []Block {
	var first []Block
	for _, f := range figures {
		for _, p := range places {
			if !strings.HasPrefix(f.ID, p.id) {
				continue
			}
			if p.part != part {
				break // the first that fits
			}
			at := slices.IndexFunc(blocks, func(b Block) bool { return p.heading != "" && b.Heading == p.heading })
			if at < 0 {
				first = append(first, Block{Figures: []*figure.Figure{f}})
			} else {
				blocks[at].Figures = append(blocks[at].Figures, f)
			}
			break
		}
	}
	return append(first, blocks...)
}

// heed names the warnings, each once, and where they are explained.
func (c *Content) heed() string {
	name := func(warnings []cjs.Warning) string {
		var titles []string
		for _, w := range warnings {
			if t := view.WarningTitle(w.ID); !slices.Contains(titles, t) {
				titles = append(titles, t)
			}
		}
		return view.And(titles)
	}
	var out []string
	if s := name(c.Fit.Warnings); s != "" {
		out = append(out, s+" (see Estimates)")
	}
	if c.Assess != nil {
		if s := name(append(c.Assess.Warnings(), assess.CovariateWarnings(c.Covariates)...)); s != "" {
			out = append(out, s+" (see Does the model fit?)")
		}
	}
	return strings.Join(out, "; ")
}

// cautions are the small print of the fit.
func (c *Content) cautions() view.Section {
	sections := view.FitPage(c.Fitted).Sections
	return sections[slices.IndexFunc(sections, isCaution)]
}

// blocks are sections without figures.
func blocks(sections []view.Section) []Block {
	var out []Block
	for _, s := range sections {
		shown := slices.ContainsFunc(s.Tables, func(t view.Table) bool { return !t.CSVOnly && len(t.Rows) > 0 })
		if !shown && len(s.Paragraphs)+len(s.Warnings)+len(s.Notes) == 0 {
			s.Heading = "" // tables for programs alone
		}
		out = append(out, Block{Section: s})
	}
	return out
}

func without(sections []view.Section, drop func(view.Section) bool) []view.Section {
	return slices.DeleteFunc(slices.Clone(sections), drop)
}

// isCaution tells the small print, which stands in a part of its own.
func isCaution(s view.Section) bool {
	return slices.Contains(s.Notes, view.Cautions[0])
}

// The longest tables of distinct histories and of the next seen that are shown;
// the whole is had by `unseen histories`.
const (
	mostHistories = 40
	mostNextSeen  = 60
)

func (c *Content) histories() []Block {
	var out []Block
	if next := view.NextSeenTable(c.Histories); len(next.Rows) <= mostNextSeen {
		out = append(out, Block{Section: view.Section{Heading: "The next-seen table", Tables: []view.Table{next}}})
	} else {
		next.CSVOnly = true
		out = append(out, Block{Section: view.Section{Tables: []view.Table{next}, Notes: []string{
			"`unseen histories --next-seen` lists the next-seen table of each cohort."}}})
	}
	t := view.DistinctTable(c.Histories)
	if len(t.Rows) <= mostHistories {
		return append(out, Block{Section: view.Section{Heading: "Fish with each history", Tables: []view.Table{t},
			Notes: []string{"1 where a fish was detected, 0 where not; the first 1 is where it was released."}}})
	}
	return append(out, Block{Section: view.Section{Notes: []string{
		view.Plural(len(t.Rows), "distinct history", "distinct histories") + "; `unseen histories` lists them."}}})
}

// estimates are the sections of a fit but for the answer, which stands at the
// top of the page, its accounts, which stand under the data, and the small print.
func (c *Content) estimates() []Block {
	return blocks(without(view.FitPage(c.Fitted).Sections, isCaution)[1:])
}

// models are the sections of a comparison; its averages do not pass for the
// tables of the fit.
func (c *Content) models() []view.Section {
	out := without(view.ComparePage(c.Data, c.Compare, nil).Sections, isCaution)
	for i := range out {
		out[i].Tables = slices.Clone(out[i].Tables)
		for j := range out[i].Tables {
			switch t := &out[i].Tables[j]; t.ID {
			case "passed", "survival", "detection":
				t.ID = "averaged_" + t.ID
			}
		}
	}
	return out
}

// cannot says of which quantities the data say nothing, and of which no such
// study can.
func (c *Content) cannot() []Block {
	river := &c.Histories.River
	var here []string
	for _, p := range c.Fit.Passed {
		if len(p.Of) == 0 && math.IsNaN(p.PassedShare.Value) {
			here = append(here, "How many fish passed "+river.Sites[p.Site].Name+".")
		}
	}
	for _, p := range c.Fit.Products {
		whom := ""
		if len(p.Of) > 0 {
			whom = " (" + view.Whom(p.Of) + ")"
		}
		here = append(here, "Survival from "+river.Sites[p.From].Name+" to "+river.Sites[p.Site].Name+
			" apart from detection at "+river.Sites[p.Site].Name+whom+": only their product is estimable.")
	}
	for _, s := range c.Fit.Survival {
		if s.Status == cjs.Absent {
			here = append(here, "Survival from "+river.Reach(s.From)+", "+view.Whom(s.Of)+": no data to estimate it from.")
		}
	}
	var out []Block
	if len(here) > 0 {
		out = append(out, Block{Section: view.Section{Heading: "With these data", Notes: here}})
	}
	return append(out, Block{Section: view.Section{Heading: "By any study of this kind", Notes: []string{
		"How many fish there are, tagged and not: only the tagged are followed.",
		"Whether a fish that was not detected died, stayed behind, left the river elsewhere, or lost its tag: survival is apparent.",
		"Where within a reach fish were lost.",
		"Causes: a model shows what is associated in these fish, not what causes it.",
	}}})
}

// again says how to get the numbers.
func (c *Content) again() []Block {
	inputs := view.Table{Title: "Files read", Columns: []view.Column{
		{Name: "file", Title: "file", Key: true}, {Name: "sha256", Title: "SHA-256"},
	}}
	for _, in := range c.Inputs {
		inputs.Rows = append(inputs.Rows, []view.Cell{view.T(in.File), view.T(in.SHA256)})
	}
	return []Block{{Section: view.Section{
		Paragraphs: []string{
			"Program: unseen, version " + c.Version + ". Command: `" + c.Command + "`",
			"No random numbers were drawn: there is no seed to give. The same files and the same program give this page again, byte for byte.",
		},
		Tables: []view.Table{inputs},
		Notes:  []string{"`unseen fit " + argv.Quoted(filepath.Base(c.Study.Path)) + " --json` gives every number of the fit in full precision."},
	}}}
}
