package desk

import (
	"encoding/json"
	"fmt"
	"net/http"
	"time"
)

// watchEvery is how often a page that is open has the files looked at.
const watchEvery = 500 * time.Millisecond

// events tells a page that is open what goes on: that the study or its data are
// others now, and how far a long work is.
func (d *Desk) events(w http.ResponseWriter, r *http.Request) {
	out := http.NewResponseController(w)
	w.Header().Set("Content-Type", "text/event-stream")
	if _, err := fmt.Fprint(w, "retry: 2000\n\n"); err != nil || out.Flush() != nil {
		return
	}
	var job string
	mark := d.mark()
	for tick := time.NewTicker(watchEvery); ; {
		select {
		case <-r.Context().Done():
			tick.Stop()
			return
		case <-d.ctx.Done():
			tick.Stop()
			return
		case <-tick.C:
		}
		send := func(name string, data string) bool {
			_, err := fmt.Fprintf(w, "event: %s\ndata: %s\n\n", name, data)
			return err == nil && out.Flush() == nil
		}
		if now := d.mark(); now != mark {
			mark = now
			if !send("study", mark) {
				return
			}
		}
		if s := d.jobs.state(); s != nil {
			text, err := json.Marshal(s)
			if err == nil && string(text) != job {
				job = string(text)
				if !send("job", job) {
					return
				}
			}
		}
	}
}
