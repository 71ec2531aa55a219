package compare

import (
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/history"
)

// WarningIDs are all IDs of warnings of a comparison that are its own.
var WarningIDs = []string{WarnAveragedDisagree, WarnBestDoubtful}

// leftOut says which fish no variant is fitted to, and why: all are fitted to
// the same, so that any tells it.
func (r *Result) leftOut() {
	p := r.Variants[0].Fit.Problem
	r.LeftOut, r.Missing = p.Dropped, p.Missing
	warn := func(about, message string, args ...any) {
		r.Warnings = append(r.Warnings, cjs.Warning{ID: cjs.WarnDropped, About: about, Message: history.Say(message, args...)})
	}
	if p.Dropped > 0 {
		var why []string
		for _, m := range p.Missing {
			why = append(why, history.Say("%d have no %s", m.Fish, m.Column))
		}
		warn("fish", "%d of %d fish are left out of every model, so that all are fitted to the same fish: %s. The estimates describe the others; compare without the models that use it to have all fish.",
			p.Dropped, p.Histories.Fish(), strings.Join(why, ", "))
	}
	if p.NotYet > 0 {
		warn("as_of", "%d fish released after as_of are left out.", p.NotYet)
	}
}
