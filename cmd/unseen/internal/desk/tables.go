package desk

import (
	"errors"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"net/http"
	"path/filepath"
	"slices"
	"strings"

	"example.org/unseen/cmd/unseen/internal/argv"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/demo"
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
	Asks     []question
	Dropped  []string
	Refused  string // why nothing can be proposed, or the tables not be read
	Cards    []card
	Kinds    []kindChoice
	Unsure   int // cards that are not confirmed
	Sites    []siteCard
	Command  string
	Guessed  bool
	Zones    []string
	Settings []setting
}

// question is what a proposal asks, with the fields that answer it, the guess
// filled in.
type question struct {
	Text   string
	Do     string // of the form; "" where there is none
	Args   [][2]string
	Fields []field
	Link   string // to what answers it on the page
}

// siteCard is a site with what can be changed of it.
type siteCard struct {
	Index    int
	Name     string // as it stands
	Typed    string // as it was written on the page
	Km       string
	Rows     string
	Up, Down bool
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
		if err := l.proposed(&out); err != nil {
			return "", err
		}
		return render("tables", out)
	}
	out.Command = "unseen check " + argv.Quoted(base(l.Name))
	if l.Err != nil {
		out.Refused = l.Err.Error()
	}
	if l.Study == nil {
		return render("tables", out)
	}
	if _, err := l.folder.paths(l.Study); err != nil {
		return render("tables", out) // outside nothing is looked at
	}
	out.Sites, out.Settings, out.Zones = l.sitesOf(l.Study), l.settings(l.Study), zones()
	// Also where the tables cannot be read: a column that is wrong is put right
	// where it is seen.
	if taken, err := takenOf(l.ctx, l.Study); err == nil {
		if out.Cards, err = l.cards(taken, l.Study, l.Data); err != nil {
			return "", err
		}
	}
	return render("tables", out)
}

// proposed fills in what a study of the folder's tables would be.
func (l *looking) proposed(out *tablesData) error {
	x := l.draft
	if x == nil {
		return nil
	}
	out.Guessed, out.Command, out.Zones = true, "unseen new .", zones()
	out.Text, out.Dropped = x.Text, x.Dropped
	if x.Err != nil {
		out.Refused = x.Err.Error()
	}
	if x.Study != nil {
		out.Sites, out.Settings = l.sitesOf(x.Study), l.settings(x.Study)
	}
	out.Kinds = tableKinds
	out.Asks = x.questions()
	var err error
	if out.Cards, err = l.cards(x.Tables, x.Study, x.Data); err != nil {
		return err
	}
	for i := range out.Cards {
		c := &out.Cards[i]
		c.Kind = x.Tables[i].Kind
		if c.Guessed = !x.Right[c.Name]; c.Guessed && x.Tables[i].Kind != propose.Unused {
			out.Unsure++
		}
	}
	return nil
}

// questions are the doubts of a proposal, with what answers them here.
func (x *draft) questions() (out []question) {
	for _, ask := range x.Asks {
		q := question{Text: ask.Text}
		if x.Study != nil {
			q.answer(ask.About, x.Study)
		}
		out = append(out, q)
	}
	return out
}

// answer adds the fields that settle a question.
func (q *question) answer(about string, st *study.Study) {
	for _, s := range settingsOf(st) {
		if s.Key == about && about != "released_at" {
			q.Do, q.Fields = "settings", []field{{s.Key, s.Label, s.Value, s.Hint, s.Choices}}
			return
		}
	}
	switch about {
	case "released_at":
		at := ""
		if t := st.Fish.ReleasedAt; t != nil {
			at = clockWords(*t)
		}
		q.Do, q.Args, q.Fields = "remedy", [][2]string{{"kind", "released at"}}, []field{{"time", "Time of day", at, "as 20:00", nil}}
	case "as_of":
		q.Do, q.Args = "remedy", [][2]string{{"kind", "running"}}
		day := q.Text[strings.LastIndex(q.Text, " ")+1:]
		q.Fields = []field{{"day", "The season still runs, with data to the end of", day, "", nil}}
	case "release":
		q.Do, q.Args = "sites", [][2]string{{"was-0", st.Sites[0].Name}}
		q.Fields = []field{{"name-0", "The place of release is called", st.Sites[0].Name, "", nil}}
	case "site":
		q.Link = "#sites"
	}
}

// zones are names of zones to choose from, for a field that takes any.
func zones() []string {
	return []string{"UTC", "Europe/Dublin", "Europe/London", "Europe/Lisbon", "Europe/Madrid", "Europe/Paris", "Europe/Berlin", "Europe/Copenhagen", "Europe/Oslo",
		"Europe/Stockholm", "Europe/Helsinki", "Europe/Warsaw", "Europe/Rome", "Atlantic/Reykjavik", "America/Halifax", "America/New_York", "America/Chicago",
		"America/Denver", "America/Vancouver", "America/Los_Angeles", "America/Anchorage", "America/Santiago", "Asia/Tokyo", "Asia/Seoul", "Australia/Sydney",
		"Pacific/Auckland", "Etc/GMT-1", "Etc/GMT-2", "Etc/GMT+3", "Etc/GMT+8"}
}

// settings are those of a study, as they were typed last.
func (l *looking) settings(st *study.Study) []setting {
	out := settingsOf(st)
	typed := l.typed("settings", "")
	for i := range out {
		out[i].Value = typed(out[i].Key, out[i].Value)
	}
	return out
}

// sitesOf are the sites of a study, with names and km as they were typed last.
func (l *looking) sitesOf(st *study.Study) []siteCard {
	var out []siteCard
	typed := l.typed("sites", "")
	for i := range st.Sites {
		s := &st.Sites[i]
		c := siteCard{Index: i, Name: s.Name, Up: i > 0, Down: i+1 < len(st.Sites)}
		if s.Km == s.Km {
			c.Km = fmt.Sprint(s.Km)
		}
		c.Km, c.Typed = typed(fmt.Sprint("km-", i), c.Km), typed(fmt.Sprint("name-", i), s.Name)
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
	x, err := d.draftNow(r.Context())
	switch {
	case err != nil:
		return "/tables", err
	case x == nil:
		return "/tables", fmt.Errorf("there is no table in the folder yet")
	case x.Text == "":
		return "/tables", x.Err
	}
	// A study file that came meanwhile is not ours to replace: without force
	// and a record of it, it is refused.
	if _, err := d.folder.root.Lstat(studyName); err == nil {
		return "/tables", fmt.Errorf("%s is there meanwhile; nothing was written", studyName)
	}
	err = atomicfile.Write(d.folder.join(studyName), atomicfile.Rule{}, func(w io.Writer) error {
		_, err := io.WriteString(w, x.Text)
		return err
	})
	if err != nil {
		return "/tables", err
	}
	// What was said stands in the study now.
	if err := d.folder.root.Remove(draftName); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return "/tables", err
	}
	d.folder.root.Remove(earlierFolder) // where there is nothing else in it
	d.look(studyName)
	return d.noted("/tables", note{Text: "Written: " + studyName + ". You can still change everything here."}), nil
}
