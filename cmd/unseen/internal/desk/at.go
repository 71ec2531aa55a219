package desk

import (
	"maps"
	"net/http"
	"net/url"
	"slices"

	"example.org/unseen/cjs/model"
	"example.org/unseen/history/study"
)

// at is what is looked at: a part of the page and all that it depends on. It is
// the address, so that back, reload and a second window show the same.
type at struct {
	Part  string
	Query url.Values
}

func atOf(r *http.Request) at { return at{r.PathValue("part"), r.URL.Query()} }

// Get is what the address says of a key.
func (a at) Get(key string) string { return a.Query.Get(key) }

// drawer are the keys of what is opened beside a part.
var drawer = []string{"why", "records", "q", "page", "remedy", "about", "kind", "tag", "first", "seconds", "from", "to", "zone", "time", "day", "place", "note"}

// To is the address of a part, the model and the place on the river kept.
func (a at) To(part string) string {
	q := maps.Clone(a.Query)
	for k := range q {
		if !slices.Contains(modelKeys(), k) && k != "site" {
			delete(q, k)
		}
	}
	return address(part, q)
}

// With is this view with keys and values changed in pairs; an empty value takes
// a key away. What the drawer shows is left out unless it is named.
func (a at) With(pairs ...string) string {
	q := url.Values{}
	maps.Copy(q, a.Query)
	for _, k := range drawer {
		delete(q, k)
	}
	for i := 0; i+1 < len(pairs); i += 2 {
		q.Del(pairs[i])
		if pairs[i+1] != "" {
			q.Set(pairs[i], pairs[i+1])
		}
	}
	return address(a.Part, q)
}

// Here is this view without the drawer, Whole with all of it.
func (a at) Here() string  { return a.With() }
func (a at) Whole() string { return address(a.Part, a.Query) }

func address(part string, q url.Values) string {
	if len(q) == 0 {
		return "/" + part
	}
	return "/" + part + "?" + q.Encode()
}

// modelKeys are the keys of the address that choose a model: those of a
// [[model]] in the study file.
func modelKeys() []string {
	out := []string{"model"}
	for i := range study.Parts {
		out = append(out, study.Parts[i].Key)
	}
	for i := range study.Parts {
		if p := &study.Parts[i]; p.Links != nil {
			out = append(out, p.LinkFlag())
		}
	}
	return out
}

// Model is what the address says of the model, by its keys.
func (a at) Model() map[string]string {
	out := map[string]string{}
	for _, k := range modelKeys() {
		if v := a.Get(k); v != "" {
			out[k] = v
		}
	}
	return out
}

// choice is the model that the address asks for.
func (a at) choice() model.Spec {
	asked := model.Spec{Name: a.Get("model")}
	for i := range study.Parts {
		p := &study.Parts[i]
		asked.SetTerms(model.Part(p.Key), a.Get(p.Key))
		if p.Links != nil {
			asked.SetLink(model.Part(p.Key), a.Get(p.LinkFlag()))
		}
	}
	return asked
}

// WithModel is this view with a model of the study by its name, or with one in
// terms.
func (a at) WithModel(spec model.Spec, named bool) string {
	var pairs []string
	for _, k := range modelKeys() {
		pairs = append(pairs, k, "")
	}
	if named {
		return a.With(append(pairs, "model", spec.Name)...)
	}
	for i := range study.Parts {
		p := &study.Parts[i]
		pairs = append(pairs, p.Key, spec.Terms(model.Part(p.Key)))
		if p.Links != nil {
			if l := spec.Link(model.Part(p.Key)); l != p.Links[0] {
				pairs = append(pairs, p.LinkFlag(), l)
			}
		}
	}
	return a.With(pairs...)
}
