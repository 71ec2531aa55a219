package analysis

import (
	"fmt"
	"path/filepath"
	"time"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// Source is where an answer comes from: a study, a plan, or files of
// replicates.
type Source struct {
	// Path of the study or plan file, or of the first file.
	Path, Title string
	// StudyFile is the study file; nil of a plan and of replicates.
	StudyFile *study.Study
	// AsOf is the moment before which data count; zero when all do. The season
	// may be over before it: Running tells whether it is not.
	AsOf    time.Time
	Running bool
	// Location is the zone that times are shown in.
	Location *time.Location
	// Inputs are the files read, relative to the folder of Path: the study or plan
	// first.
	Inputs []history.Input
}

// Name is the title, or where there is none the name of the file.
func (s Source) Name() string {
	if s.Title != "" {
		return s.Title
	}
	return filepath.Base(s.Path)
}

// Files are Path and the paths of all inputs.
func (s Source) Files() []string {
	paths := []string{s.Path}
	for _, in := range s.Inputs {
		p := filepath.FromSlash(in.File)
		if !filepath.IsAbs(p) {
			p = filepath.Join(filepath.Dir(s.Path), p)
		}
		if p != filepath.Clean(s.Path) {
			paths = append(paths, p)
		}
	}
	return paths
}

// UpTo shows, in the source's zone, a moment up to which data count: by the
// day's layout where it is a day's end, else by the other.
func (s Source) UpTo(t time.Time, byDay, byMinute string) string {
	if s.Location != nil {
		t = t.In(s.Location)
	}
	if before := t.Add(-time.Nanosecond); before.Day() != t.Day() {
		return before.Format(byDay)
	}
	return t.Format(byMinute)
}

// Moment reads a moment in words: of RFC 3339, or in loc where it has no
// offset; a date alone is the end of that day, and "today" that of today.
func Moment(words string, loc *time.Location) (time.Time, error) {
	if words == study.Today {
		return study.TodayEnds(loc), nil
	}
	return moment(words, loc, 1, "the end of that day")
}

// moment reads a moment; a date alone is the first moment of the day so many after
// it, which is called so.
func moment(words string, loc *time.Location, days int, called string) (time.Time, error) {
	if t, err := time.Parse(time.RFC3339, words); err == nil {
		return t, nil
	}
	for _, layout := range []string{"2006-01-02T15:04", "2006-01-02T15:04:05", "2006-01-02 15:04", "2006-01-02 15:04:05"} {
		if t, err := time.ParseInLocation(layout, words, loc); err == nil {
			return t, nil
		}
	}
	t, err := time.Parse(time.DateOnly, words)
	if err != nil {
		return t, fmt.Errorf("%q is no time; write 2025-05-20 (%s) or 2025-05-20T12:00, in the study's time zone (%s)", words, called, loc)
	}
	return history.DayStart(t.Year(), t.Month(), t.Day()+days, loc), nil
}
