package findings_test

import (
	"context"
	"fmt"
	"time"

	"example.org/unseen/history"
	"example.org/unseen/history/findings"
	"example.org/unseen/history/fishtable"
	"example.org/unseen/history/rule"
	"example.org/unseen/history/sighting"
	"example.org/unseen/history/study"
	"example.org/unseen/history/tagindex"
)

// What there is to look at in the demo.
func ExampleFind() {
	st, err := study.Load("../../cmd/unseen/internal/demo/files/study.toml")
	if err != nil {
		panic(err)
	}
	season := rule.SeasonOf(st, time.Time{})
	fish, err := fishtable.Read(context.Background(), st, season, tagindex.Form{}, 1)
	if err != nil {
		panic(err)
	}
	seen, err := sighting.Read(context.Background(), st, fish, sighting.Options{Season: season, Workers: 1})
	if err != nil {
		panic(err)
	}
	found, _ := findings.Find(st, nil, season, fish, seen)
	for _, f := range found {
		fmt.Println(f.ID, f.Count)
	}
	// Output:
	// before_release 17
	// turned_back 3
	// unknown_site 9
	// bad_tag 6
	// bad_time 4
	// unreadable 3
	// test_tag 60
	// unknown_tag 56
}

// Two findings put the whole answer in doubt.
func ExampleGrave() {
	for _, id := range []string{findings.SeasonRuns, findings.SitesReversed, "parked_tag"} {
		fmt.Println(id, findings.Grave(&history.Finding{ID: id}))
	}
	// Output:
	// season_runs true
	// sites_reversed true
	// parked_tag false
}
