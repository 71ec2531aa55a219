package ingest

import (
	"example.org/unseen/history"
	"example.org/unseen/history/sighting"
)

// Result is what a study's tables say.
type Result struct {
	Histories *history.Histories // the fish
	// Accounting is where every sighting record ended; Read is 0 for a study
	// of ready histories.
	Accounting history.Accounting
	// Findings come ordered by how much they can move the answer, most first.
	Findings []history.Finding
	// Inputs are the files read, the study's table first.
	Inputs []history.Input
	// Notes say what was settled without being asked: delimiters, the order
	// of day and month, files passed over.
	Notes []string
	// WorkingShare is, by cohort and site, the share of the cohort's passages
	// that fell into the site's working windows, 0 to 1: when each fish passed
	// is told by its sightings at the neighbouring sites. 1 where the site has
	// no windows, NaN where no passage is known and at the first site. nil for
	// a study of ready histories.
	WorkingShare [][]float64
	// Flags are what was noticed about each fish; nil for ready histories.
	Flags []history.Flag
	// Sites counts the readable records of each site; nil for ready
	// histories.
	Sites []SiteActivity
	// First are the first records of each array file as they are understood,
	// where they were asked for.
	First []sighting.Judged
}

// SiteActivity is what the readers of a site recorded, of whatever tag.
type SiteActivity struct {
	Site    string // name of the site
	Records int64  // read there, of any tag
	// First and Last are Unix milliseconds, [history.NoTime] without records.
	First, Last int64
}

// siteActivity sums up what was recorded at the rows of each site.
func siteActivity(r *history.River, seen *sighting.Result) []SiteActivity {
	out := make([]SiteActivity, len(r.Sites))
	for k := range out {
		out[k] = SiteActivity{Site: r.Sites[k].Name, First: history.NoTime, Last: history.NoTime}
	}
	for i, p := range seen.Places {
		s, a := &out[p.Site], &seen.Activity[i]
		if a.Records == 0 {
			continue
		}
		if s.Records == 0 {
			s.First, s.Last = a.First, a.Last
		}
		s.First, s.Last = min(s.First, a.First), max(s.Last, a.Last)
		s.Records += a.Records
	}
	return out
}
