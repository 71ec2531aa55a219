package main

import (
	"strings"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cmd/unseen/internal/argv"
	"example.org/unseen/cmd/unseen/internal/explain"
	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/cmd/unseen/internal/text"
	"example.org/unseen/cmd/unseen/internal/view"
)

func explainCommand() *cli.Command {
	return &cli.Command{
		Name:      "explain",
		Usage:     "what a warning, check, rule or status means, and what to do",
		UsageText: "unseen explain [ID]",
		Description: "Prints what the documents say of an ID that a screen, a report or JSON names. Without an\n" +
			"ID it lists all of them.\n\n" +
			"Example:  unseen explain few-fish",
		Action: explainAction,
	}
}

func explainAction(c *cli.Context) error {
	if c.NArg() > 1 {
		return line.Errorf("explain takes one ID: unseen explain %s", c.Args().First())
	}
	if !c.Args().Present() {
		return text.Write(c.App.Writer, contents(explain.Entries()))
	}
	name := c.Args().First()
	found := explain.Find(name)
	if len(found) == 0 {
		var all []string
		for _, e := range explain.Entries() {
			all = append(all, e.ID)
		}
		if near := argv.Nearest(name, all); near != "" {
			return line.Errorf("nothing is called %q; did you mean %q?", name, near)
		}
		return line.Errorf("nothing is called %q; `unseen explain` lists what there is", name)
	}
	p := view.Page{Title: found[0].ID}
	for _, e := range found {
		p.Sections = append(p.Sections, view.Section{Heading: e.Kind, Paragraphs: append(e.Paragraphs, "From docs/"+e.Page+".")})
	}
	return text.Write(c.App.Writer, p)
}

// contents are all IDs, by what they are of.
func contents(all []explain.Entry) view.Page {
	p := view.Page{Title: "What can be explained: unseen explain ID"}
	for _, e := range all {
		if n := len(p.Sections); n == 0 || p.Sections[n-1].Heading != e.Kind {
			p.Sections = append(p.Sections, view.Section{Heading: e.Kind, Paragraphs: []string{""}})
		}
		// What many tables share is listed once for each.
		last := &p.Sections[len(p.Sections)-1].Paragraphs[0]
		if listed := ", " + *last + ", "; !strings.Contains(listed, ", "+e.ID+", ") {
			*last = strings.TrimPrefix(*last+", "+e.ID, ", ")
		}
	}
	return p
}
