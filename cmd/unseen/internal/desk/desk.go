// Package desk is the page that unseen opens on this machine: tables are given
// to it, what was understood is confirmed, the answer read. It shows the
// sections and figures that screens and report show, from the same code; the
// study file stays the single truth.
package desk

import (
	"context"
	"errors"
	"io"
	"net/http"
	"path/filepath"
	"slices"

	"example.org/unseen/cmd/unseen/internal/page"
)

// New opens a folder. The desk works until ctx ends, or the page asks it to
// stop.
func New(ctx context.Context, opt Options) (*Desk, error) {
	if opt.MaxUpload == 0 {
		opt.MaxUpload = 1 << 30
	}
	f, err := openFolder(opt.Folder)
	if err != nil {
		return nil, err
	}
	d := &Desk{opt: opt, guard: newGuard(opt.Address), folder: f, study: filepath.ToSlash(opt.Study), answers: map[string]*kept{}}
	d.ctx, d.stop = context.WithCancel(ctx)
	d.serve = d.guard.wrap(d.routes())
	d.watching.Go(d.watch)
	return d, nil
}

// Close lets go of the folder and ends what is being worked out.
func (d *Desk) Close() error {
	d.stop()
	d.watching.Wait()
	return d.folder.root.Close()
}

// Done is closed when the page asked to stop.
func (d *Desk) Done() <-chan struct{} { return d.ctx.Done() }

// Address opens the page, as often as it is used; Once only one time, for the
// browser that is started with it.
func (d *Desk) Address() string {
	return "http://" + d.opt.Address + entrance + "?key=" + d.guard.token
}
func (d *Desk) Once() string { return "http://" + d.opt.Address + entrance + "?key=" + d.guard.once }

func (d *Desk) ServeHTTP(w http.ResponseWriter, r *http.Request) { d.serve.ServeHTTP(w, r) }

// writing are the requests that change something.
type action func(w http.ResponseWriter, r *http.Request) (next string, err error)

// routes is the one table of what can be asked.
func (d *Desk) routes() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", d.first)
	mux.HandleFunc("GET /{part}", d.show)
	mux.HandleFunc("GET /get/{name...}", d.get)
	mux.HandleFunc("GET /events", d.events)
	asset := func(path, kind, text string) {
		mux.HandleFunc("GET "+path, func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Type", kind)
			io.WriteString(w, text)
		})
	}
	asset("/desk.css", "text/css; charset=utf-8", page.Style()+style)
	asset("/desk.js", "text/javascript; charset=utf-8", script)
	asset("/favicon.ico", "image/svg+xml", icon)
	for path, do := range map[string]action{
		"/upload": d.upload, "/demo": d.demo, "/study": d.newStudy, "/edit": d.change, "/undo": d.undo,
		"/job": d.startJob, "/job/stop": d.stopJob,
	} {
		mux.HandleFunc("POST "+path, d.acts(do, slices.Contains([]string{"/job", "/job/stop"}, path)))
	}
	mux.HandleFunc("POST /stop", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		io.WriteString(w, `<!DOCTYPE html><html lang="en"><meta charset="utf-8"><title>unseen has ended</title><link rel="stylesheet" href="/desk.css"><main id="work"><h1>unseen has ended</h1><p>You can close this page. What you changed is in the study file.</p></main></html>`)
		d.stop()
	})
	return mux
}

// acts answers a form: back to the view it was sent from, with what is to be
// said about it.
func (d *Desk) acts(do action, harmless bool) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if d.opt.ReadOnly && !harmless {
			refuse(w, http.StatusForbidden, "The page was opened with --read-only: nothing is changed.")
			return
		}
		if r.URL.Path != "/upload" {
			r.Body = http.MaxBytesReader(w, r.Body, 1<<20)
			if err := r.ParseForm(); err != nil {
				refuse(w, http.StatusRequestEntityTooLarge, "The form is too large.")
				return
			}
		}
		next, err := do(w, r)
		if err != nil {
			var large *http.MaxBytesError
			if errors.As(err, &large) {
				refuse(w, http.StatusRequestEntityTooLarge, "That is more than the page takes at once; copy the files into the folder instead.")
				return
			}
			next = d.noted(next, note{Text: err.Error(), Fault: true, Form: r.PostForm})
		}
		http.Redirect(w, r, next, http.StatusSeeOther)
	}
}
