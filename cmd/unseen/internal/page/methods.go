package page

import (
	"fmt"
	"slices"
	"strings"

	"example.org/unseen/cjs"
	"example.org/unseen/cjs/model"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history"
)

// The works cited, as they stand in a list of references.
const (
	cormack   = "Cormack RM (1964) Estimates of survival from the sighting of marked animals. Biometrika 51:429–438."
	jolly     = "Jolly GM (1965) Explicit estimates from capture-recapture data with both death and immigration – stochastic model. Biometrika 52:225–247."
	seber     = "Seber GAF (1965) A note on the multiple-recapture census. Biometrika 52:249–259."
	burnham87 = "Burnham KP, Anderson DR, White GC, Brownie C, Pollock KH (1987) Design and analysis methods for fish survival experiments based on release-recapture. American Fisheries Society Monograph 5, Bethesda."
	lebreton  = "Lebreton J-D, Burnham KP, Clobert J, Anderson DR (1992) Modeling survival and testing biological hypotheses using marked animals: a unified approach with case studies. Ecological Monographs 62:67–118."
	catchpole = "Catchpole EA, Morgan BJT (1997) Detecting parameter redundancy. Biometrika 84:187–196."
	burnham02 = "Burnham KP, Anderson DR (2002) Model selection and multimodel inference, 2nd edn. Springer, New York."
	hurvich   = "Hurvich CM, Tsai C-L (1989) Regression and time series model selection in small samples. Biometrika 76:297–307."
	wilson    = "Wilson EB (1927) Probable inference, the law of succession, and statistical inference. Journal of the American Statistical Association 22:209–212."
	venzon    = "Venzon DJ, Moolgavkar SH (1988) A method for computing profile-likelihood-based confidence intervals. Applied Statistics 37:87–94."
	tweedie   = "Tweedie MCK (1957) Statistical properties of inverse Gaussian distributions. I. Annals of Mathematical Statistics 28:362–377."
	zabel     = "Zabel RW, Anderson JJ (1997) A model of the travel time of migrating juvenile salmon, with an application to Snake River spring chinook salmon. North American Journal of Fisheries Management 17:93–100."
)

// methods is a paragraph that says what was done, and the works it cites.
func (c *Content) methods() []Block {
	f := c.Fit
	river := &c.Histories.River
	cited := []string{cormack, jolly, seber, lebreton, catchpole, wilson}
	cite := func(works ...string) {
		for _, w := range works {
			if !slices.Contains(cited, w) {
				cited = append(cited, w)
			}
		}
	}
	var s []string
	say := func(format string, args ...any) { s = append(s, history.Say(format, args...)) }

	say("Survival in each of %s and detection at each of %s were estimated from the detection histories of %s with a Cormack–Jolly–Seber model (Cormack 1964; Jolly 1965; Seber 1965; Lebreton et al. 1992), conditional on release.",
		view.Plural(len(river.Sites)-1, "reach", "reaches"), view.Plural(len(river.Sites)-1, "site"), view.Plural(c.Histories.Fish(), "tagged fish", "tagged fish"))
	say("The model was %s.", modelWords(c))
	if slices.ContainsFunc(river.Sites, func(s history.Site) bool { return s.Divided() }) {
		say("Where a site has several rows of antennas, a passing fish was assumed to be detected by each row independently of the others.")
	}
	if n := len(f.Problem.TestPasses); n > 0 {
		say("Test passes (%s) entered the likelihood as binomial counts.", view.And(c.testPasses()))
	}
	if slices.ContainsFunc(f.Passed, func(p cjs.Passed) bool { return p.Removed > 0 }) {
		say("The history of a fish taken out at a site ends there by design.")
	}
	if held := c.held(); len(held) > 0 {
		say("Taken as known, not estimated: %s.", view.And(held))
	}
	if r := f.Options.Retention; r.Held > 0 {
		say("Tags were kept by %d of %d fish held; shares that allow for lost tags are given beside the others.", r.Kept, r.Held)
	}
	if f.Problem.Running() {
		say("The season was still running: arrival times entered the likelihood through the first-passage law of a migrant with drift (Tweedie 1957), so that fish still on their way are not counted as dead.")
		cite(tweedie)
	}
	if len(f.Working) > 0 {
		say("Where rows did not always work (declared under What data went in) the likelihood is that of the times of passage: a fish that may have passed while a row stood still was not counted as missed there. Travel follows the first-passage law of a migrant with drift (Tweedie 1957); detection is that at full work, and −2 ln L includes the densities of travel times.")
		cite(tweedie)
	}
	say("The likelihood was maximised by Newton's method with analytic derivatives; the verdict on convergence rests on the score and the observed information at the answer.")
	say("The number of parameters is the rank of the derivative of the cell probabilities (Catchpole and Morgan 1997).")
	level := strings.TrimSuffix(view.Digits(100*f.Options.Level, 1), ".0")
	switch f.Options.Interval {
	case "profile":
		say("Intervals (%s %%) are by profile likelihood (Venzon and Moolgavkar 1988).", level)
		cite(venzon)
	case "auto":
		idle := ""
		if len(f.Working) > 0 {
			idle = " or rows did not always work"
		}
		say("Standard errors are from the observed information by the delta method, intervals (%s %%) symmetric on the logit scale, or by profile likelihood (Venzon and Moolgavkar 1988) where the logit scale cannot be trusted: at or beside a boundary, where estimates rest on few fish%s, and where survival and detection are separated only by shared parameters.", level, idle)
		cite(venzon)
	default:
		say("Standard errors are from the observed information by the delta method, intervals (%s %%) symmetric on the logit scale, by profile likelihood at boundaries (Venzon and Moolgavkar 1988).", level)
		cite(venzon)
	}
	say("Shares of fish seen have Wilson (1927) intervals.")
	say("The share that passed a site is the product of survival from release to the site, averaged over fish; its variance uses the full covariance of the estimates.")
	if f.Options.VarianceInflation != 1 {
		say("Variances were multiplied by %s to allow for more variation than the model has (Lebreton et al. 1992).", view.Digits(f.Options.VarianceInflation, 3))
	}
	if c.Compare != nil {
		say("Models were compared by AICc and averaged by Akaike weights, over models that hold at least 95 %% of the weight (Hurvich and Tsai 1989; Burnham and Anderson 2002), with releases and re-releases as the sample size.")
		cite(hurvich, burnham02)
	}
	if c.Assess != nil {
		say("Fit was checked by contingency tables of what became of fish with different pasts (Burnham et al. 1987).")
		cite(burnham87)
	}
	if c.Travel != nil {
		say("Travel times were described by the first-passage law of a migrant with drift (Tweedie 1957; Zabel and Anderson 1997).")
		cite(tweedie, zabel)
	}
	say("All was done with unseen, version %s.", c.Version)
	slices.Sort(cited)
	return []Block{
		{Section: view.Section{Paragraphs: []string{strings.Join(s, " ")}}},
		{Section: view.Section{Heading: referencesHeading, Notes: cited}},
	}
}

// held names the values taken as known.
func (c *Content) held() []string {
	river := &c.Histories.River
	var out []string
	add := func(e cjs.Estimate, what string) {
		if e.Status == cjs.Held {
			out = append(out, fmt.Sprintf("%s (%s)", what, view.Digits(e.Value, 3)))
		}
	}
	of := func(categories []cjs.Category) string {
		if len(categories) == 0 {
			return ""
		}
		return ", " + view.Whom(categories)
	}
	for _, s := range c.Fit.Survival {
		add(s.Estimate, "survival "+river.Reach(s.From)+of(s.Of))
	}
	for _, d := range c.Fit.Detection {
		where := river.Sites[d.Site].Name
		if d.Row >= 0 {
			where += "/" + river.Sites[d.Site].Rows[d.Row]
		}
		add(d.Estimate, "detection at "+where+of(d.Of))
	}
	return out
}

// testPasses are the counts of test passes, as "27 of 40 read at Tidehead".
func (c *Content) testPasses() []string {
	var out []string
	for _, d := range wire.DeclarationsOf(c.Study) {
		if d.Kind == wire.DeclaredPasses {
			out = append(out, d.Value+" at "+d.At)
		}
	}
	return out
}

// modelWords is the model in running text.
func modelWords(c *Content) string {
	p := c.Fit.Problem
	var parts []string
	for _, part := range p.Parts() {
		if part == model.RestKm { // has no terms
			continue
		}
		said := fmt.Sprintf("%s by %s", part, p.TermsOf(part))
		if len(p.TermsOf(part)) == 0 {
			said = string(part) + " the same for all"
		}
		if !part.Moves() {
			said += fmt.Sprintf(" (%s link)", p.Spec.Link(part))
		}
		parts = append(parts, said)
	}
	return view.And(parts)
}
