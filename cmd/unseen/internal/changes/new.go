package changes

import (
	"strings"

	"example.org/unseen/cmd/unseen/internal/wire"
)

// Between says what moved from before to now. file names the earlier result.
func Between(head wire.Head, file string, before, now *wire.Fit) *Result {
	r := &Result{Head: head, Since: Since{file, before.Program, before.AsOf}, Files: files(before.Inputs, now.Inputs),
		Counts: counts(&before.Data, &now.Data), Numbers: numbers(before, now), RunningBefore: running(before), RunningNow: running(now), Model: words(before, now), Measures: measures(&before.Fit, &now.Fit),
		WarningsNew: missing(now.Warnings, before.Warnings), WarningsGone: missing(before.Warnings, now.Warnings), studyNamed: namesStudy(before.Inputs, now.Inputs)}
	r.Passed = pair(before.Passed, now.Passed, func(p wire.Passed) (map[string]string, string, wire.Estimate) {
		return p.Of, p.Site, p.PassedPercent
	})
	r.Survival = pair(before.Survival, now.Survival, func(s wire.Survival) (map[string]string, string, wire.Estimate) {
		return s.Of, s.From + " to " + s.To, s.Estimate
	})
	r.Detection = pair(before.Detection, now.Detection, func(d wire.Detection) (map[string]string, string, wire.Estimate) {
		return d.Of, strings.TrimSuffix(d.Site+"/"+d.Row, "/"), d.Estimate
	})
	return r
}
