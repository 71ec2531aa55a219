package desk

import (
	"context"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"net/http"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/argv"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/demo"
	"example.org/unseen/cmd/unseen/internal/page"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/history"
	"example.org/unseen/history/findings"
	"example.org/unseen/history/propose"
	"example.org/unseen/history/study"
)

type tablesData struct {
	At       at
	Here     string
	Folder   string
	Name     string
	Sum      string
	ReadOnly bool
	Files    []entry
	More     bool
	Others   []string // study files of other names
	Text     string   // of the proposal
	Doubts   []string
	Refused  string // why nothing can be proposed, or the tables not be read
	Cards    []card
	Sites    []siteCard
	Command  string
	Guessed  bool
	Settings []setting
}

// card is a table with its first records as understood.
type card struct {
	ID       string
	File     string
	Sentence string
	First    template.HTML
	Pickers  []picker
}

// siteCard is a site with what can be changed of it.
type siteCard struct {
	Index     int
	Name      string
	Km        string
	Rows      string
	Up, Down  bool
	Attribute string
}

func (l *looking) tables() (template.HTML, error) {
	out := tablesData{At: l.at, Here: l.at.Whole(), Folder: l.folder.path, Name: l.Name, Sum: l.Sum, ReadOnly: l.opt.ReadOnly}
	var err error
	if out.Files, out.More, err = l.folder.list(); err != nil {
		return "", err
	}
	for _, f := range out.Files {
		if !f.Table {
			out.Others = append(out.Others, f.Name)
		}
	}
	out.Files = slices.DeleteFunc(out.Files, func(f entry) bool { return !f.Table })
	if l.Name == "" {
		l.proposed(&out)
		return render("tables", out)
	}
	out.Command = "unseen check " + argv.Quoted(base(l.Name))
	if l.Err != nil {
		out.Refused = l.Err.Error()
	}
	if l.Study != nil {
		out.Sites = sitesOf(l.Study)
		out.Settings = l.settings()
	}
	if l.Data != nil {
		out.Cards, err = l.cards(l.Study, l.Data, true)
	}
	if err != nil {
		return "", err
	}
	return render("tables", out)
}

// proposed fills in what a study of the folder's tables would be.
func (l *looking) proposed(out *tablesData) {
	if len(out.Files) == 0 {
		return
	}
	out.Guessed = true
	out.Command = "unseen new ."
	p, st, data, err := l.proposal(l.ctx)
	if p != nil {
		out.Text, out.Doubts = p.Study, p.Doubts
	}
	if st != nil {
		out.Sites = sitesOf(st)
	}
	if err != nil {
		out.Refused = err.Error()
		return
	}
	if out.Cards, err = l.cards(st, data, false); err != nil {
		out.Refused = err.Error()
	}
}

// proposal makes a study of the folder's tables, and reads them by it.
func (d *Desk) proposal(ctx context.Context) (p *propose.Proposal, st *study.Study, data *analysis.Data, err error) {
	path := d.folder.join(studyName)
	files, _, err := d.folder.list()
	if err != nil {
		return nil, nil, nil, err
	}
	var paths []string
	for _, f := range files {
		if f.Table {
			full := d.folder.join(f.Name)
			if err := d.folder.within(full); err != nil {
				return nil, nil, nil, err
			}
			paths = append(paths, full)
		}
	}
	if len(paths) == 0 {
		return nil, nil, nil, fmt.Errorf("there is no table in the folder yet")
	}
	if p, err = propose.Study(ctx, paths, d.folder.path); err != nil {
		return nil, nil, nil, err
	}
	if st, err = study.Parse(path, []byte(p.Study)); err != nil {
		return p, nil, nil, err
	}
	if _, err = d.folder.paths(st); err != nil {
		return p, nil, nil, err
	}
	data, err = read(ctx, st)
	return p, st, data, err
}

// cards are the tables of a study with their first records as understood.
func (l *looking) cards(st *study.Study, data *analysis.Data, pick bool) ([]card, error) {
	var out []card
	first := view.FirstPage(data, shownFirst, func(string) bool { return true })
	for i, s := range first.Sections {
		t := s.Tables[0]
		c := card{ID: fmt.Sprint("table-", i), File: t.Title}
		isFish := st.Fish != nil && t.Title == st.Fish.Written && i == 0
		if isFish {
			c.Sentence = fmt.Sprintf("The tagged fish: %s.", view.Plural(data.Histories.Len(), "fish", "fish"))
		} else {
			c.Sentence = "Sightings" + zoneWords(st) + "."
		}
		t.Title = "The first records of " + t.Title + ", as understood"
		s.Tables = []view.Table{t}
		var err error
		if c.First, err = page.Fragment(page.Block{Section: s}); err != nil {
			return nil, err
		}
		if pick && !l.opt.ReadOnly {
			c.Pickers = l.pickers(st, c.File, isFish)
		}
		out = append(out, c)
	}
	return out, nil
}

func zoneWords(st *study.Study) string {
	if st.TimeZone == "" {
		return ", times without an offset read in UTC"
	}
	return ", times without an offset read in the zone " + st.TimeZone
}

func sitesOf(st *study.Study) []siteCard {
	var out []siteCard
	for i := range st.Sites {
		s := &st.Sites[i]
		c := siteCard{Index: i, Name: s.Name, Up: i > 0, Down: i+1 < len(st.Sites)}
		if s.Km == s.Km {
			c.Km = fmt.Sprint(s.Km)
		}
		var rows []string
		for _, r := range s.Rows {
			rows = append(rows, r.Name+" ("+strings.Join(r.Antennas, ", ")+")")
		}
		c.Rows = strings.Join(rows, "; ")
		out = append(out, c)
	}
	return out
}

// upload takes the files of a form into the folder.
func (d *Desk) upload(w http.ResponseWriter, r *http.Request) (string, error) {
	r.Body = http.MaxBytesReader(w, r.Body, d.opt.MaxUpload)
	parts, err := r.MultipartReader()
	if err != nil {
		return "/tables", fmt.Errorf("no file was sent")
	}
	var taken, faults []string
	for {
		part, err := parts.NextPart()
		if err == io.EOF {
			break
		}
		if err != nil {
			return "/tables", err
		}
		if part.FormName() != "files" || part.FileName() == "" {
			continue
		}
		name, err := d.folder.take(part)
		if err != nil {
			if large := new(http.MaxBytesError); asError(err, &large) {
				return "/tables", err
			}
			faults = append(faults, err.Error())
			continue
		}
		taken = append(taken, name)
	}
	switch {
	case len(faults) > 0:
		if len(taken) > 0 {
			faults = append(faults, "Taken: "+strings.Join(taken, ", "))
		}
		return "/tables", fmt.Errorf("%s", strings.Join(faults, "\n"))
	case len(taken) == 0:
		return "/tables", fmt.Errorf("no file was chosen")
	}
	return d.noted("/tables", note{Text: "Taken into the folder: " + strings.Join(taken, ", ") + "."}), nil
}

// demo writes the demo study into the folder, or where that is not empty into a
// folder in it, and shows it.
func (d *Desk) demo(http.ResponseWriter, *http.Request) (string, error) {
	d.edit.Lock()
	defer d.edit.Unlock()
	dir, err := d.demoDir()
	if err != nil {
		return "/tables", err
	}
	if err := demo.Write(d.folder.join(dir), atomicfile.Rule{}); err != nil {
		return "/tables", err
	}
	d.look(filepath.ToSlash(filepath.Join(dir, demo.Study)))
	return "/answer", nil
}

// demoFolder is where the demo is written in a folder that holds other things.
const demoFolder = "hollin-water"

func (d *Desk) demoDir() (string, error) {
	files, err := fs.ReadDir(d.folder.root.FS(), ".")
	if err != nil {
		return "", err
	}
	if !slices.ContainsFunc(files, func(f fs.DirEntry) bool { return !strings.HasPrefix(f.Name(), ".") }) {
		return ".", nil
	}
	if err := d.folder.within(d.folder.join(demoFolder)); err != nil {
		return "", err
	}
	return demoFolder, nil
}

// look turns to another study file of the folder.
func (d *Desk) look(name string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.study = name
}

// newStudy writes the proposed study file, or turns to one that is there.
func (d *Desk) newStudy(_ http.ResponseWriter, r *http.Request) (string, error) {
	d.edit.Lock()
	defer d.edit.Unlock()
	if name := r.PostFormValue("open"); name != "" {
		files, _, err := d.folder.list()
		if err != nil {
			return "/tables", err
		}
		if !slices.ContainsFunc(files, func(f entry) bool { return f.Name == name && !f.Table }) {
			return "/tables", fmt.Errorf("there is no study file %s in the folder", name)
		}
		d.look(name)
		return "/tables", nil
	}
	p, _, data, err := d.proposal(r.Context())
	if p == nil {
		return "/tables", err
	}
	if day, runs := seasonRuns(data); runs {
		p.OfferAsOf(day)
	}
	// A study file that came meanwhile is not ours to replace: without force
	// and a record of it, it is refused.
	if _, err := d.folder.root.Lstat(studyName); err == nil {
		return "/tables", fmt.Errorf("%s is there meanwhile; nothing was written", studyName)
	}
	err = atomicfile.Write(d.folder.join(studyName), atomicfile.Rule{}, func(w io.Writer) error {
		_, err := io.WriteString(w, p.Study)
		return err
	})
	if err != nil {
		return "/tables", err
	}
	d.look(studyName)
	return d.noted("/tables", note{Text: "Written: " + studyName + ". You can still change everything here."}), nil
}

// seasonRuns tells whether the season seems to run still, and the day of the
// last record.
func seasonRuns(d *analysis.Data) (day string, runs bool) {
	if d == nil || !slices.ContainsFunc(d.Findings, func(f history.Finding) bool { return f.ID == findings.SeasonRuns }) {
		return "", false
	}
	return d.LastRecord().Format(time.DateOnly), true
}
