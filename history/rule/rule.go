// Package rule holds the data rules: each says of a sighting record, or of a
// fish's merged passage, whether it counts. docs/rules.md explains them to the
// user in the same order.
//
// Begin with [Of], or [Named] for an ID; ExampleOf shows it. Moments are Unix
// milliseconds, speeds km/day.
package rule

import (
	"fmt"
	"slices"
	"strings"

	"example.org/unseen/history"
)

// ID names a rule. The IDs stand in the documented order: the first rule that
// matches a record wins.
type ID uint8

const (
	// None: no rule matched, the record counts.
	None           ID = iota
	Unreadable        // too many or too few fields, an open quote, a NUL byte
	BadTag            // no ISO 11784 code
	BadTime           // no time
	TestTag           // a test tag
	SharedTag         // a tag that two fish share
	UnknownTag        // a tag that is not in the fish table
	Died              // a fish that died before release
	Ghost             // a tag known to lie in the river
	UnknownSite       // a site that is not in the study
	UnknownAntenna    // an antenna that its site does not list
	AfterAsOf         // at as_of or later
	AfterLastDay      // after last_day
	BeforeRelease     // before the fish's release
	AfterRemoval      // after the fish was taken out
	Shed              // after the tag was lost
	OutsideWorking    // outside the windows in which the site worked
	AtRelease         // at or above the site where the fish entered
	TooFast           // faster than fastest_km_per_day
	OutOfOrder        // begun after a passage downstream
	Count             // how many rules there are, None included
)

// Rule describes one rule.
type Rule struct {
	// ID is stable, for programs and for `off = [...]`.
	ID string
	// Name is for people.
	Name string
	// Passage rules see a fish's merged passages, the others one record.
	Passage bool
	// Choice: the study can switch the rule off.
	Choice bool
	// Advice is what the user can do about the records.
	Advice string
}

var rules = [Count]Rule{
	None:           {ID: "kept", Name: "kept"},
	Unreadable:     {ID: "unreadable", Name: "unreadable record", Advice: "look at the lines: a number of fields unlike the header's, an open quote, a NUL byte, or more than 1 MiB"},
	BadTag:         {ID: "bad_tag", Name: "bad tag code", Advice: `correct the codes; for tags that are not of ISO 11784 set tag_form = "text" at the top of the study file`},
	BadTime:        {ID: "bad_time", Name: "bad time", Advice: "correct the times, or the layout of the column"},
	TestTag:        {ID: "test_tag", Name: "test tag", Choice: true, Advice: "nothing, if these are test tags; if one belongs to a study fish, add it to the fish table"},
	SharedTag:      {ID: "shared_tag", Name: "tag of two fish", Advice: "find out whose tag it is and correct the fish table; until then neither fish counts"},
	UnknownTag:     {ID: "unknown_tag", Name: "unknown tag", Advice: "nothing, if these are other people's fish; else complete the fish table"},
	Died:           {ID: "died_in_recovery", Name: "fish died before release", Advice: "the tag of a dead fish was read: was it used again, or is the fish table wrong?"},
	Ghost:          {ID: "ghost_tag", Name: "known ghost tag", Advice: "nothing; the tags are listed as ghosts"},
	UnknownSite:    {ID: "unknown_site", Name: "unknown site", Advice: "add the site to the study, correct its name, or list the spelling among the aliases of the site that is meant"},
	UnknownAntenna: {ID: "unknown_antenna", Name: "unknown antenna", Advice: "add the antenna to its site in the study, or correct its name"},
	AfterAsOf:      {ID: "after_as_of", Name: "after as_of", Advice: "nothing; move as_of when the season has gone on"},
	AfterLastDay:   {ID: "after_last_day", Name: "after the last day", Advice: "nothing; move last_day if these fish belong to the study"},
	BeforeRelease:  {ID: "before_release", Name: "before release", Advice: "compare the reader's clock and time zone with the release times"},
	AfterRemoval:   {ID: "after_removal", Name: "after removal", Advice: "was the fish released again? Then clear its removal in the fish table"},
	Shed:           {ID: "shed_tag", Name: "shed tag", Advice: "nothing; the tag was no longer in the fish"},
	OutsideWorking: {ID: "outside_working", Name: "outside the working windows", Choice: true, Advice: "if the site did work, widen its working windows"},
	AtRelease:      {ID: "at_release", Name: "at or above the release site", Advice: "nothing; a fish's history starts where it is released"},
	TooFast:        {ID: "too_fast", Name: "faster than fastest_km_per_day", Passage: true, Choice: true, Advice: "look at the clock of the site; a bird or a lorry may have carried the tag"},
	OutOfOrder:     {ID: "turned_back", Name: "first detected here after a detection downstream", Passage: true, Choice: true, Advice: "nothing, if the fish turned back: it was missed on its way down; if there are many, compare the clocks of the sites"},
}

// Of is the description of a rule; of no rule it is empty.
func Of(id ID) *Rule {
	if id >= Count {
		return &Rule{}
	}
	return &rules[id]
}

// Named is the rule with a stable ID; None where there is none such.
func Named(id string) ID {
	return ID(max(0, slices.IndexFunc(rules[:], func(r Rule) bool { return r.ID == id })))
}

// Reports are the IDs of the checks that set nothing aside and can be
// switched off, with what they look for.
var Reports = []struct{ ID, Name string }{
	{"parked_tag", "a tag parked at an antenna for days"},
	{"uncertain_species", "a fish of uncertain species"},
	{"below_minimum_length", "a fish below the minimum length for its tag"},
	{"odd_length", "a length that is none of such fish"},
	{"released_after_records", "fish released after the last record of any tag"},
	{"alike_sites", "two sites with almost one name"},
	{"outage", "a site without records while its neighbours detect fish"},
	{"clock_jump", "travel times that jump by an hour at a clock change"},
	{"season_runs", "a season that is still running"},
	{"sites_reversed", "neighbouring sites in the wrong order, or with a clock days off"},
}

// Off is the set of rules and reports a study switches off.
type Off map[string]bool

// NewOff checks the study's list; what is no choice is refused.
func NewOff(list []string) (Off, error) {
	var choices []string
	for _, r := range rules {
		if r.Choice {
			choices = append(choices, r.ID)
		}
	}
	for _, r := range Reports {
		choices = append(choices, r.ID)
	}
	off := Off{}
	for _, id := range list {
		if !slices.Contains(choices, id) {
			return nil, fmt.Errorf("off names %q, which is no rule that can be switched off; these can: %s%s",
				id, strings.Join(choices, ", "), history.Propose(id, choices))
		}
		off[id] = true
	}
	return off, nil
}
