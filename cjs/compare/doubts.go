package compare

import (
	"fmt"
	"strings"
)

// doubts are what the models disagree about being estimable.
type doubts struct{ missing, thinner []doubt }

// doubt: the models lack all that is in what.
type doubt struct {
	models string
	what   []string
}

// none notes that there is no average of what, which the models lack.
func (d *doubts) none(models []*Variant, what string) { note(&d.missing, models, what) }

// without notes that what is averaged without the models, which lack it.
func (d *doubts) without(models []*Variant, what string) { note(&d.thinner, models, what) }

// message says where there is no average and why, what is averaged over fewer
// models, and what to do; "" where the models agree.
func (d *doubts) message() string {
	var said []string
	for _, x := range d.missing {
		said = append(said, fmt.Sprintf("There is no average of %s: %s cannot give it, and without them an average would hold less than 95 %% of the weight.", listed(x.what), x.models))
	}
	if len(said) > 0 {
		said = append(said, "Report a single model there, or compare only models that estimate it.")
	}
	for _, x := range d.thinner {
		said = append(said, fmt.Sprintf("Averaged without %s, which cannot give %s: the others hold 95 %% of the weight or more. Compare only models that give it to average over all.", x.models, listed(x.what)))
	}
	return strings.Join(said, " ")
}

func note(list *[]doubt, models []*Variant, what string) {
	var names []string
	for _, v := range models {
		names = append(names, fmt.Sprintf("%q (weight %s)", v.Name(), percent(v.Weight)))
	}
	said := strings.Join(names, ", ")
	for i := range *list {
		if x := &(*list)[i]; x.models == said {
			x.what = append(x.what, what)
			return
		}
	}
	*list = append(*list, doubt{said, []string{what}})
}

func percent(weight float64) string {
	if weight < 0.001 {
		return "below 0.1 %"
	}
	return fmt.Sprintf("%.1f %%", 100*weight)
}

func listed(what []string) string {
	const most = 6
	if len(what) > most {
		return fmt.Sprintf("%s; %d more", strings.Join(what[:most], "; "), len(what)-most)
	}
	return strings.Join(what, "; ")
}
