package study

import "strings"

// The nouns of a study that names none.
var (
	Fish  = Noun{"fish", "fish"}
	Sites = Noun{"site", "sites"}
)

// Nouns are what the study speaks of.
func (s *Study) Nouns() (animal, occasion Noun) {
	if animal, occasion = s.Animal, s.Occasion; animal == (Noun{}) {
		animal = Fish
	}
	if occasion == (Noun{}) {
		occasion = Sites
	}
	return animal, occasion
}

// noun reads animal = "bird", or where several are called otherwise than by the
// usual ending animal = ["mouse", "mice"].
func (d *decoder) noun(t *table, key string) Noun {
	words, pos := d.texts(t, key)
	if t.nodes[key] == nil {
		return Noun{}
	}
	for i := range words {
		words[i] = strings.TrimSpace(words[i])
	}
	switch {
	case len(words) == 1 && words[0] != "":
		return Noun{words[0], several(words[0])}
	case len(words) == 2 && words[0] != "" && words[1] != "":
		return Noun{words[0], words[1]}
	}
	d.fault(pos, "%s is a word, or two where several are called otherwise: %s = [\"mouse\", \"mice\"]", key, key)
	return Noun{}
}

// several is the usual form of a noun for more than one.
func several(s string) string {
	for _, end := range []string{"s", "x", "z", "ch", "sh"} {
		if strings.HasSuffix(s, end) {
			return s + "es"
		}
	}
	if n := len(s); n > 1 && s[n-1] == 'y' && !strings.ContainsRune("aeiou", rune(s[n-2])) {
		return s[:n-1] + "ies"
	}
	return s + "s"
}
