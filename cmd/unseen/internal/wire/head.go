package wire

import (
	"time"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/speech"
	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

// Version of all documents. It is raised where a field changes its meaning or
// goes, not where one is added.
const Version = 1

// Program names the program that wrote the document.
type Program struct {
	// or revision, with a mark where it was changed
	Version string `json:"version"`
}

// Head begins every document.
type Head struct {
	// unseen/ and the command
	Kind string `json:"kind"`
	// of this form; raised when a field changes its meaning or is removed
	Version int `json:"version"`
	// the program that wrote the document
	Program Program `json:"program"`
	// of the study
	Title string `json:"title"`
	// what the study follows, for people; the fields speak of fish in any case
	Animal string `json:"animal"`
	// where or when it may be seen, for people; the fields speak of sites in any case
	Occasion string `json:"occasion"`
	// every file read, with its SHA-256
	Inputs []history.Input `json:"inputs"`
	// the moment before which data count (ISO 8601), of a date the midnight that ends it; null
	// when the season is over
	AsOf *string `json:"as_of" schema:"time"`
	// say has texts speak of the study's animals and occasions; nil: of fish.
	say func(string) string
}

// NewHead begins a document of the given kind: "fit", "histories", "check".
func NewHead(kind, version string, from analysis.Source) Head {
	h := Head{Kind: "unseen/" + kind, Version: Version, Program: Program{version}, Title: from.Title, Inputs: list(from.Inputs), say: speech.Of(from.StudyFile)}
	st := from.StudyFile
	if st == nil {
		st = &study.Study{}
	}
	animal, occasion := st.Nouns()
	h.Animal, h.Occasion = animal.One, occasion.One
	if t := from.AsOf; !t.IsZero() {
		s := t.UTC().Format(time.RFC3339)
		h.AsOf = &s
	}
	return h
}

// Site is a site of the river.
type Site struct {
	Name string   `json:"name"`
	Km   Number   `json:"km"`
	Rows []string `json:"rows"`
}

func sites(river *history.River) []Site {
	return each(river.Sites, func(s history.Site) Site { return Site{s.Name, Number(s.Km), list(s.Rows)} })
}
