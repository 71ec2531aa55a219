package desk

import (
	"html/template"
	"net/http"
)

type jobs struct{}
type jobState struct{}

func (j *jobs) state() *jobState                                            { return nil }
func (l *looking) trust() (template.HTML, error)                            { return render("elsewhere", l.command("assess")) }
func (l *looking) season() (template.HTML, error)                           { return render("elsewhere", l.command("season")) }
func (l *looking) plan() (template.HTML, error)                             { return render("elsewhere", l.command("plan")) }
func (l *looking) fish() (template.HTML, error)                             { return render("elsewhere", l.command("histories")) }
func (d *Desk) startJob(http.ResponseWriter, *http.Request) (string, error) { return "/", nil }
func (d *Desk) stopJob(http.ResponseWriter, *http.Request) (string, error)  { return "/", nil }
