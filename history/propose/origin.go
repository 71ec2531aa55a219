package propose

import (
	"path/filepath"
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"example.org/unseen/history/study"
)

// origins are where the records of each array file were made, as one of its
// names tells: what stands above its header, its sheet, its own name or that of
// its folder.
type origins struct {
	of    map[*sample]string
	score float64
	ok    bool // every file has one
}

// generic are words in the names of files that name no place.
var generic = []string{"reader", "readers", "leser", "lecteur", "lector", "lettore", "log", "logs", "data", "daten", "dati", "datos", "données", "donnees", "export", "exports", "download", "downloads",
	"array", "arrays", "antenna", "antennas", "antenne", "antennen", "file", "files", "raw", "rohdaten", "roh", "pit", "tag", "tags", "read", "reads", "readings", "detections", "detection",
	"sightings", "sighting", "records", "record", "sheet", "tabelle", "feuil", "hoja", "foglio", "blad", "ark", "taul", "arkusz", "лист", "part", "teil", "copy", "kopie", "copie",
	"season", "saison", "temporada", "spring", "summer", "autumn", "winter", "final", "new", "neu", "all", "alle", "merged", "csv", "txt", "tsv", "dat", "xlsx", "gz", "zst", "psv", "asc", "prn", "tab", "out",
	"backup", "day", "tag_", "week", "month", "year", "to", "from", "and", "the", "of", "utc", "smolt", "smolts", "fish", "study", "unit",
	"lesungen", "messungen", "ablesung", "ablesungen", "auslesung", "lecturas", "lectures", "letture", "avlesninger", "avläsningar", "aflæsninger", "lukemat", "odczyty", "leituras", "чтения", "данные", "データ", "detecciones", "detekcje", "registro", "registros"}

// cleanName takes dates, numbers and words that name no place out of a name.
func cleanName(name string) string {
	isPart := func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }
	first, last := -1, 0
	at := 0
	for at < len(name) {
		rest := name[at:]
		skip := len(rest) - len(strings.TrimLeftFunc(rest, isPart))
		at += skip
		end := strings.IndexFunc(name[at:], isPart)
		if end < 0 {
			end = len(name) - at
		}
		if end == 0 {
			break
		}
		part := strings.ToLower(name[at : at+end])
		if namesPlace(part) {
			if first < 0 {
				first = at
			}
			last = at + end
		}
		at += end
	}
	if first < 0 {
		return ""
	}
	return strings.TrimSpace(strings.ReplaceAll(name[first:last], "_", " "))
}

// namesPlace tells whether a word may be of a place: it is no number, date or
// month, nor a generic word, numbered or not.
func namesPlace(part string) bool {
	letters := strings.TrimFunc(part, unicode.IsDigit)
	if letters == "" || slices.Contains(generic, letters) {
		return false
	}
	digits := 0
	for _, r := range part {
		if unicode.IsDigit(r) {
			digits++
		}
	}
	if digits >= 4 || digits > 0 && len(letters) == 1 && (letters == "t" || letters == "v") {
		return false
	}
	_, isDate := readTime("1 " + letters + " 2025") // a month's name
	return !isDate || len(letters) > 9
}

// fold is a name without what people write now one way, now another.
func fold(name string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return r
		}
		return -1
	}, study.FoldName(name))
}

// levels are the names by which an array file may tell its place.
func (t *sample) levels(plain bool) []string {
	clean := cleanName
	if plain {
		clean = func(s string) string { return strings.TrimSpace(strings.ReplaceAll(s, "_", " ")) }
	}
	// A Mac writes the accents of a file's name as signs of their own.
	file := filepath.FromSlash(norm.NFC.String(t.file.Name))
	stem := filepath.Base(file)
	for ext := filepath.Ext(stem); ext != "" && ext != stem && len(ext) <= 5; ext = filepath.Ext(stem) {
		stem = strings.TrimSuffix(stem, ext)
	}
	dir := filepath.Dir(file)
	folder, over := "", ""
	if dir != "." {
		folder, over = filepath.Base(dir), filepath.Base(filepath.Dir(dir))
	}
	out := []string{t.preambleSite(), clean(t.reading.Sheet), clean(stem), clean(folder), clean(over)}
	if out[0] == "" {
		out[0] = t.spelling(out[1:])
	}
	return out
}

// spelling is how a line above the header writes one of the names: Station Alder
// Ford.
func (t *sample) spelling(names []string) string {
	for _, line := range t.above {
		key, value, _ := strings.Cut(strings.TrimLeft(line, "#%/*!- \""), " ")
		value = strings.Trim(value, " ;,\"")
		if hinted(key, siteWords) && fold(value) != "" && slices.ContainsFunc(names, func(s string) bool { return fold(s) == fold(value) }) {
			return value
		}
	}
	return ""
}

// preambleSite is the site that a line above the header names.
func (t *sample) preambleSite() string {
	for _, line := range t.above {
		line = strings.TrimLeft(line, "#%/*!- \"")
		for _, sign := range []string{":", "=", ";", "\t", ","} {
			key, value, found := strings.Cut(line, sign)
			if !found || len(key) > 40 || !hinted(key, siteWords) || hinted(key, readerWords) {
				continue
			}
			value, _, _ = strings.Cut(strings.Trim(value, ":=;,\t \"'"), ";")
			value = strings.Trim(strings.TrimSpace(value), "\"',")
			if kindOf(value) == other && strings.IndexFunc(value, unicode.IsLetter) >= 0 {
				return value
			}
		}
	}
	return ""
}

// origins tells where the array files are from by the level of their names that
// does most as a site does. plain: numbers and generic words count too.
func (g *guess) origins(groups []*alike, plain bool) origins {
	best := origins{}
	names := g.placeNames()
	base := []float64{1.5, 1, 0.6, 0.4, 0.2}
	for level := range base {
		o := origins{of: map[*sample]string{}, ok: true}
		c := &candidate{values: map[string]int{}}
		var all []passing
		spelt := map[string]string{}
		files, others := 0, 0
		for _, group := range groups {
			for _, t := range group.files {
				levels := t.levels(plain)
				name := knownName(levels[level], names)
				for k := 0; name == "" && k < len(levels); k++ { // another of its names
					name = knownName(levels[k], names)
					others++
				}
				if name == "" {
					o.ok = false
					continue
				}
				files++
				if s, met := spelt[fold(name)]; met {
					name = s
				}
				spelt[fold(name)] = name
				o.of[t] = name
				c.values[name]++
			}
			for _, p := range group.all {
				if name := o.of[p.of]; name != "" {
					all = append(all, passing{tag: p.tag, ms: p.ms, at: []string{name}})
				}
			}
		}
		if !o.ok || len(c.values) == 0 {
			continue
		}
		c.watch(all, 0)
		o.score = base[level] + c.alone(names) - float64(others)/float64(files)
		if !best.ok || o.score > best.score {
			best = o
		}
	}
	return best
}

// knownName is the spelling of a name in the tables that name places.
func knownName(name string, tables []map[string]int) string {
	f := fold(name)
	if f == "" {
		return name
	}
	for _, names := range tables {
		for n := range names {
			if fold(n) == f {
				return n
			}
		}
	}
	// A name may hold more than the place.
	best := ""
	for _, names := range tables {
		for n := range names {
			if k := fold(n); len(k) >= 4 && len(n) > len(best) && strings.Contains(f, k) {
				best = n
			}
		}
	}
	if best != "" {
		return best
	}
	return name
}

// settlePlaces decides for each group of array files whether a column says the
// site, or the files' names.
func (g *guess) settlePlaces(groups []*alike) {
	from := g.origins(groups, false)
	joint, missing := &candidate{values: map[string]int{}, numbers: true}, false
	var all []passing
	hint := 0.0
	for _, a := range groups {
		if !a.plausible(from) {
			missing = true
			continue
		}
		c := a.places[a.site]
		joint.numbers = joint.numbers && c.numbers
		for v, n := range c.values {
			joint.values[v] += n
		}
		if hinted(c.name, siteWords) {
			hint = 2
		}
		for _, p := range a.all {
			all = append(all, passing{tag: p.tag, ms: p.ms, at: []string{p.at[a.site]}})
		}
	}
	joint.watch(all, 0)
	named := from.ok && from.score > joint.alone(g.placeNames())+hint+0.25
	if len(joint.values) == 0 {
		named = from.ok
	}
	if !from.ok && missing {
		for _, a := range groups {
			if len(a.places) == 0 || a.onlyAntenna() && len(groups) > 1 {
				from = g.origins(groups, true)
				break
			}
		}
	}
	places := placesOfNames(groups, from)
	var byName []string
	for _, a := range groups {
		fromName := from.ok && (!a.plausible(from) || named && !a.namesSite(places))
		for _, t := range a.files {
			c := a.col
			if fromName {
				c.site = -1
				if g.places[t] = from.of[t]; !slices.Contains(byName, from.of[t]) {
					byName = append(byName, from.of[t])
				}
				if a.antenna < 0 && a.site >= 0 && a.places[a.site].isAntenna() {
					c.antenna = a.places[a.site].column
				}
			}
			g.columns[t] = c
		}
		if fromName {
			a.doubt = ""
		}
		if a.doubt != "" {
			g.doubt("%s", a.doubt)
		}
	}
	if len(byName) > 0 {
		g.ask("site", "not all records name their site: %s %s from the names of files, sheets or folders, or from lines above the header", strings.Join(byName, ", "), map[bool]string{true: "is", false: "are"}[len(byName) == 1])
	}
}

// namesSite tells whether the records have a column that is called the site and
// holds names, none of which stands in the files of several places.
func (a *alike) namesSite(places map[string]map[string]bool) bool {
	c := a.places[a.site]
	if !hinted(c.name, siteWords) || c.numbers {
		return false
	}
	for name := range c.values {
		if len(places[name]) > 1 {
			return false
		}
	}
	return true
}

// placesOfNames are, of each name in a column taken for the site, the places that
// the names of its files tell.
func placesOfNames(groups []*alike, from origins) map[string]map[string]bool {
	out := map[string]map[string]bool{}
	for _, a := range groups {
		if a.site < 0 {
			continue
		}
		for _, t := range a.files {
			for name := range t.columns[a.places[a.site].column].values {
				if out[name] == nil {
					out[name] = map[string]bool{}
				}
				out[name][from.of[t]] = true
			}
		}
	}
	return out
}

// readersAreCalledAsPlaces tells whether readers are called by words, as places
// are, and not by their make and number, or by what the files' names say too.
func (a *alike) readersAreCalledAsPlaces(from origins) bool {
	for name := range a.places[a.site].values {
		said := slices.ContainsFunc(a.files, func(t *sample) bool {
			place := fold(from.of[t])
			return place != "" && (strings.Contains(fold(name), place) || strings.Contains(place, fold(name)))
		})
		if !said && strings.ContainsFunc(name, unicode.IsDigit) {
			return false
		}
	}
	return true
}

// plausible tells whether the column that does most as a site does, in a group
// of files, may be one where the files' names may tell it too.
func (a *alike) plausible(from origins) bool {
	if a.site < 0 {
		return false
	}
	c := a.places[a.site]
	if hinted(c.name, siteWords) {
		return !c.ofTag
	}
	if !from.ok {
		return true
	}
	places := map[string]bool{}
	for _, t := range a.files {
		places[from.of[t]] = true
	}
	switch {
	case c.over:
		return !c.ofTag && a.readersAreCalledAsPlaces(from)
	case a.onlyAntenna(), hinted(c.name, readerWords), c.ofTag:
		return false
	case c.ordered && c.order < 0.7:
		return false
	case c.numbers && !c.ordered, c.numbers && len(places) >= len(c.values):
		return false
	}
	return len(c.values) > 1 || !c.numbers
}
