package analysis

import (
	"example.org/unseen/cjs/model"
	"example.org/unseen/history/study"
)

// Choice is the model asked for: by name, or in terms. The zero
// value is the study's first model, or where it has none the default.
type Choice = model.Spec

// Specs are the models that the study names.
func (d *Data) Specs() []model.Spec {
	if d.Check() != nil {
		return nil
	}
	return specsOf(d.Study.Models)
}

func specsOf(models []study.Model) []model.Spec {
	out := make([]model.Spec, len(models))
	for i, m := range models {
		out[i] = model.SpecOf(m)
	}
	return out
}

// Spec finds the model that was chosen.
func (d *Data) Spec(c Choice) (model.Spec, error) {
	if err := d.Check(); err != nil {
		return model.Spec{}, err
	}
	return chosen(c, d.Specs(), d.Study.Path)
}

// chosen is the model chosen of a study, or plan, at path.
func chosen(c Choice, models []model.Spec, path string) (model.Spec, error) {
	terms := c
	terms.Name = ""
	inTerms := terms != Choice{}
	switch {
	case c.Name != "" && inTerms:
		return model.Spec{}, &Error{ID: NameAndTerms}
	case inTerms:
		return c, nil
	case c.Name == "" && len(models) == 0:
		return model.Spec{}, nil
	case c.Name == "":
		return models[0], nil
	}
	names := make([]string, len(models))
	for i, m := range models {
		if m.Name == c.Name {
			return m, nil
		}
		names[i] = `"` + m.Name + `"`
	}
	if len(names) == 0 {
		return model.Spec{}, &Error{ID: NoModels, Path: path, Name: c.Name}
	}
	return model.Spec{}, &Error{ID: NoSuchModel, Path: path, Name: c.Name, Known: names}
}
