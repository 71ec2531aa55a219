package desk

import (
	"context"
	"fmt"
	"html/template"
	"slices"
	"strings"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/figure"
	"example.org/unseen/cmd/unseen/internal/page"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/sighting"
	"example.org/unseen/history/tagindex"
)

type fishData struct {
	At      at
	Asked   string
	Fault   string
	Near    []nearTag
	Tag     string
	Said    string
	Track   template.HTML
	Records template.HTML
	Command string
}

type nearTag struct{ Tag, Address string }

// fish shows one fish: its track, and every record of its tag with what became
// of it.
func (l *looking) fish() (template.HTML, error) {
	asked := strings.TrimSpace(l.at.Get("tag"))
	out := fishData{At: l.at, Asked: asked}
	h := l.Data.Histories
	if len(h.Tag) == 0 {
		out.Fault = "This study has no tags: it gives ready histories."
		return render("fish", out)
	}
	if asked == "" {
		out.Fault = "Write a tag above, in any spelling."
		out.Near = l.nearest("")
		return render("fish", out)
	}
	shown, _, err := tagindex.Form{Text: l.Study.TagForm == "text"}.Canonical(asked)
	if err != nil {
		shown = asked
	}
	if l.Study.Fish != nil {
		for second, first := range l.Study.Fish.Aliases {
			if s, _, err := (tagindex.Form{Text: l.Study.TagForm == "text"}).Canonical(second); err == nil && s == shown {
				shown = first
			}
		}
	}
	out.Tag, out.Command = shown, l.command("check", "--csv", "checked")
	i := slices.Index(h.Tag, shown)
	if i < 0 {
		out.Said = fmt.Sprintf("%s is no tag of a fish of this study.", shown)
		out.Near = l.nearest(asked)
	} else {
		out.Said = l.life(i)
		if f := figure.Track(l.Data, i); f != nil {
			if out.Track, err = l.fragment([]page.Block{{Figures: []*figure.Figure{f}}}); err != nil {
				return "", err
			}
		}
	}
	s := view.Section{Notes: []string{view.SingleFish}}
	if l.Data.HasSightings() {
		records, err := l.recordsOf(shown)
		if err != nil {
			return "", err
		}
		s.Heading, s.Tables = "Every record of this tag", []view.Table{view.RecordsTable(l.Data, records)}
		if len(records) == 0 {
			s.Paragraphs, s.Tables = []string{"There is none."}, nil
		}
	}
	out.Records, err = l.fragment([]page.Block{{Section: s}})
	if err != nil {
		return "", err
	}
	return render("fish", out)
}

// life is what is known of a fish, in a sentence.
func (l *looking) life(i int) string {
	h := l.Data.Histories
	s := "Released at " + h.River.Sites[h.Entry[i]].Name
	if h.Released != nil {
		s += ", " + view.LocalTime(l.Data, h.Released[i])
	}
	if len(h.Cohorts) > 1 {
		s += ", cohort " + h.Cohorts[h.Cohort[i]]
	}
	masks := h.River.SiteMasks()
	var seen []string
	for k := int(h.Entry[i]) + 1; k < len(masks); k++ {
		if h.Seen[i]&masks[k] != 0 {
			seen = append(seen, h.River.Sites[k].Name)
		}
	}
	if len(seen) == 0 {
		return s + ". It was not detected again."
	}
	s += ". It was detected at " + view.And(seen) + "."
	if last := h.LastSite(i, masks); last+1 < len(masks) && h.End[i] == 0 {
		s += " After " + h.River.Sites[last].Name + " it was not detected again: it died, stayed, or passed unseen."
	}
	return s
}

// nearest are some tags of the study like the one asked for.
func (l *looking) nearest(asked string) []nearTag {
	var out []nearTag
	digits := strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, asked)
	for _, tag := range l.Data.Histories.Tag {
		if len(out) < 5 && (asked == "" || digits != "" && strings.Contains(tag, digits)) {
			out = append(out, nearTag{tag, address("fish", map[string][]string{"tag": {tag}})})
		}
	}
	return out
}

// recordsOf are all records of a tag, in the order of the files.
func (l *looking) recordsOf(shown string) ([]sighting.Judged, error) {
	wanted := map[string]bool{shown: true}
	form := tagindex.Form{Text: l.Study.TagForm == "text"}
	if l.Study.Fish != nil {
		for second, first := range l.Study.Fish.Aliases {
			if first == shown {
				if s, _, err := form.Canonical(second); err == nil {
					wanted[s] = true
				}
			}
		}
	}
	type key struct{ fish string }
	return once(l.ctx, l.Desk.ctx, l.kept, key{shown}, func(ctx context.Context) ([]sighting.Judged, error) { return judgedOf(ctx, l.Data, wanted) })
}

func judgedOf(ctx context.Context, d *analysis.Data, tags map[string]bool) ([]sighting.Judged, error) {
	var out []sighting.Judged
	_, err := analysis.Read(ctx, d.Study, ingest.Options{Judged: func(r sighting.Judged) error {
		if tags[r.Tag] {
			out = append(out, r)
		}
		return nil
	}})
	return out, err
}
