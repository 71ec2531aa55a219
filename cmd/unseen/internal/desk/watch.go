package desk

import (
	"encoding/json"
	"fmt"
	"io/fs"
	"net/http"
	"path"
	"path/filepath"
	"strings"
	"time"

	"github.com/fsnotify/fsnotify"

	"example.org/unseen/cmd/unseen/internal/process"
)

const (
	// pollEvery is how often the files are looked at where the system does not
	// tell of changes, as on shares of a network.
	pollEvery = 500 * time.Millisecond
	// settled is how long nothing more may happen before pages are told: what
	// writes a file does it in several steps.
	settled = 40 * time.Millisecond
	// mostWatched is how many folders are watched; where there are more, as in a
	// home folder chosen by mistake, the files are polled.
	mostWatched = 500
)

// watch tells the pages when files of the folder change, until the desk ends.
// The system tells of it; where it cannot, the files are looked at again and
// again.
func (d *Desk) watch() {
	if w := d.watcher(); w != nil {
		defer w.Close()
		if d.listen(w) {
			return
		}
	}
	d.poll()
}

// watcher watches the folder and those in it; nil where that cannot be done.
func (d *Desk) watcher() *fsnotify.Watcher {
	if process.Remote(d.folder.path) {
		return nil
	}
	w, err := fsnotify.NewWatcher()
	if err != nil {
		return nil
	}
	if !d.watchUnder(w, ".") {
		w.Close()
		return nil
	}
	return w
}

// watchUnder watches a folder of the folder, by its name in it, and all in it;
// false where one of them cannot be, or they are too many.
func (d *Desk) watchUnder(w *fsnotify.Watcher, name string) bool {
	ok := true
	fs.WalkDir(d.folder.root.FS(), name, func(name string, e fs.DirEntry, err error) error {
		switch {
		case err != nil || !e.IsDir():
			return nil
		case name != "." && hidden(name):
			return fs.SkipDir
		case len(w.WatchList()) >= mostWatched || w.Add(d.folder.join(name)) != nil:
			ok = false
			return fs.SkipAll
		}
		return nil
	})
	return ok
}

// hidden tells what is none of the user's: temporary files, earlier versions.
func hidden(name string) bool { return strings.HasPrefix(path.Base(filepath.ToSlash(name)), ".") }

// listen tells of what the system tells, until the desk ends; false where that
// is not enough any more.
func (d *Desk) listen(w *fsnotify.Watcher) bool {
	quiet := time.NewTimer(0)
	defer quiet.Stop()
	midnight := time.NewTimer(time.Hour)
	defer midnight.Stop()
	for {
		select {
		case <-d.ctx.Done():
			return true
		case e, ok := <-w.Events:
			if !ok {
				return false
			}
			if hidden(e.Name) {
				continue
			}
			if e.Has(fsnotify.Create) {
				name, err := d.folder.rel(e.Name)
				if err == nil && !d.watchUnder(w, filepath.ToSlash(name)) {
					d.changes.tell()
					return false
				}
			}
			quiet.Reset(settled)
		case _, ok := <-w.Errors: // such as more changes at once than can be told
			if !ok {
				return false
			}
			quiet.Reset(settled)
		case <-quiet.C:
			midnight.Reset(d.untilNextDay())
			d.changes.tell()
		case <-midnight.C:
			quiet.Reset(0)
		}
	}
}

// untilNextDay is how long the study stays as it is when no file changes: one
// with as_of = "today" is another one tomorrow.
func (d *Desk) untilNextDay() time.Duration {
	if s := d.current(); s.Study != nil {
		if left := time.Until(s.Study.AsOf); left > 0 {
			return left + time.Second
		}
	}
	return 24 * time.Hour
}

// poll looks at the files again and again.
func (d *Desk) poll() {
	was := ""
	tick := time.NewTicker(pollEvery)
	defer tick.Stop()
	for {
		select {
		case <-d.ctx.Done():
			return
		case <-tick.C:
		}
		if now := d.mark(); now != was {
			was = now
			d.changes.tell()
		}
	}
}

// jobEvery is how often a page that is open is told how far a long work is.
const jobEvery = 250 * time.Millisecond

// events tells a page that is open what goes on: that the study or its data are
// others now, and how far a long work is.
func (d *Desk) events(w http.ResponseWriter, r *http.Request) {
	out := http.NewResponseController(w)
	w.Header().Set("Content-Type", "text/event-stream")
	send := func(name, data string) bool {
		_, err := fmt.Fprintf(w, "event: %s\ndata: %s\n\n", name, data)
		return err == nil && out.Flush() == nil
	}
	if _, err := fmt.Fprint(w, "retry: 2000\n"); err != nil {
		return
	}
	tick := time.NewTicker(jobEvery)
	defer tick.Stop()
	var job, mark string
	changed := d.changes.next()
	for {
		if mark == "" {
			// What changed since the page was made is told at once.
			if mark = d.mark(); !send("study", mark) {
				return
			}
		}
		select {
		case <-r.Context().Done():
			return
		case <-d.ctx.Done():
			return
		case <-changed:
			changed, mark = d.changes.next(), ""
		case <-tick.C:
			s := d.jobs.state()
			if s == nil {
				continue
			}
			text, err := json.Marshal(s)
			if err == nil && string(text) != job {
				if job = string(text); !send("job", job) {
					return
				}
			}
		}
	}
}
