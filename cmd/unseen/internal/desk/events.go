package desk

import (
	"encoding/json"
	"fmt"
	"net/http"
	"time"
)

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
