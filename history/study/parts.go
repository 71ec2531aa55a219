package study

import (
	"fmt"
	"strings"
)

// Part is a part of a model that has terms of its own: its key in [[model]],
// which is also its flag and its name in JSON, and the links to choose from.
// What a part means to the likelihood stands in package model.
type Part struct {
	Key string // in the study file, on the line and in JSON
	// Links are the names of its links, the first the default; nil where
	// there is no choice. The key of the link is [Part.LinkKey].
	Links []string
	// Running: it is of how fish move, which is estimated while the season
	// runs and has no part in a model without as_of.
	Running bool
	// About names it for people, Takes says which terms it takes, and Repeat
	// what giving it several times does; all follow "TERMS of".
	About, Takes, Repeat string
}

// Parts are those a [[model]] can name, in the order in which they are shown.
var Parts = []Part{
	{Key: "survival", Links: []string{"logit", "linear", "per km", "per day"},
		About: "survival", Takes: "reach, cohort, a column, joined by + and by", Repeat: "survival; repeat it to compare"},
	{Key: "detection", Links: []string{"logit", "linear", "cloglog"},
		About: "detection", Takes: "site, row, cohort, a column", Repeat: "detection; repeat it to compare"},
	{Key: "drift", Running: true,
		About: "migration rate, with as_of", Takes: "cohort, release_day, …", Repeat: "drift, with as_of; repeat it to compare"},
	{Key: "spread", Running: true,
		About: "its spread, with as_of", Takes: "likewise", Repeat: "spread, with as_of; repeat it to compare"},
	{Key: "rest", Running: true,
		About: "delayed departure, with as_of", Takes: "same, …", Repeat: `rest, with as_of; "" is none; repeat it`},
}

// LinkKey is the key of the part's link in [[model]], and its name in JSON.
func (p *Part) LinkKey() string { return p.Key + "_link" }

// LinkFlag is the link on the command line.
func (p *Part) LinkFlag() string { return p.Key + "-link" }

// LinkWords are the names of the links in a sentence: logit, linear, "per km"
// or "per day".
func (p *Part) LinkWords() string {
	words := make([]string, len(p.Links))
	for i, l := range p.Links {
		words[i] = l
		if strings.Contains(l, " ") {
			words[i] = fmt.Sprintf("%q", l)
		}
	}
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " or " + words[last]
}

// Keys are what a [[model]] says, in order: its name, the terms of the parts
// that are of every season, their links, then the parts that are of a season
// that still runs. Keys that are not given have "".
func (m *Model) Keys() [][2]string {
	out := [][2]string{{"name", m.Name}}
	for _, running := range []bool{false, true} {
		var links [][2]string
		for i := range Parts {
			p := &Parts[i]
			if p.Running != running {
				continue
			}
			out = append(out, [2]string{p.Key, m.Terms[p.Key]})
			if p.Links != nil {
				links = append(links, [2]string{p.LinkKey(), m.Links[p.Key]})
			}
		}
		out = append(out, links...)
	}
	return out
}
