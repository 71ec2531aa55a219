package desk

import (
	"html/template"
	"net/http"

	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

type picker struct{}
type setting struct{}
type remedyLink struct{ Text, Address string }
type jobs struct{}
type jobState struct{}

func (j *jobs) state() *jobState                                            { return nil }
func (l *looking) pickers(*study.Study, string, string, bool) []picker      { return nil }
func (l *looking) settings() []setting                                      { return nil }
func (l *looking) remediesOf(history.Finding) []remedyLink                  { return nil }
func (l *looking) remedy() (template.HTML, error)                           { return "", nil }
func (l *looking) trust() (template.HTML, error)                            { return render("elsewhere", l.command("assess")) }
func (l *looking) season() (template.HTML, error)                           { return render("elsewhere", l.command("season")) }
func (l *looking) plan() (template.HTML, error)                             { return render("elsewhere", l.command("plan")) }
func (l *looking) fish() (template.HTML, error)                             { return render("elsewhere", l.command("histories")) }
func (d *Desk) change(http.ResponseWriter, *http.Request) (string, error)   { return "/", nil }
func (d *Desk) undo(_ http.ResponseWriter, r *http.Request) (string, error) { return back(r), nil }
func (d *Desk) startJob(http.ResponseWriter, *http.Request) (string, error) { return "/", nil }
func (d *Desk) stopJob(http.ResponseWriter, *http.Request) (string, error)  { return "/", nil }
func (d *Desk) lastEdit(*snapshot) string                                   { return "" }
