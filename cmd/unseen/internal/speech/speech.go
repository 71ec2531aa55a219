// Package speech has texts about fish, sites and a river speak of the animals and
// occasions that a study names. Whatever leaves the program passes it: screens,
// figures, the report, the texts of JSON documents, messages and the page of
// unseen open.
package speech

import (
	"cmp"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"example.org/unseen/history/study"
)

// Of has a text that speaks of fish, sites and a river speak of the animals
// and occasions that a study names; nil where it names none. Names of the study,
// models as they are written, commands, paths, keys, what stands in quotes, and in
// brackets as an ID, stay as they are.
func Of(st *study.Study) func(string) string {
	if st == nil {
		return nil
	}
	s := speech{at: "at"}
	if s.animal, s.occasion = st.Nouns(); s.animal == study.Fish && s.occasion == study.Sites {
		return nil
	}
	switch {
	case slices.Contains([]string{"year", "month", "week", "season", "spring", "summer", "autumn", "winter"}, s.occasion.One):
		s.at = "in"
	case s.occasion.One == "day":
		s.at = "on"
	}
	rules := s.rules(ofAnimals)
	if s.occasion != study.Sites {
		rules = append(s.rules(ofOccasions), rules...)
	}
	kept := keptWords(st)
	return func(text string) string {
		text, spans := put(text, kept)
		for _, r := range rules {
			text = r.from.ReplaceAllString(text, r.to)
		}
		return takeBack(text, spans)
	}
}

type speech struct {
	animal, occasion study.Noun
	at               string // an occasion
}

// Places of what stays as it is: the names of sites, which rules know, and others.
const (
	firstSite, lastSite   = '\U000F0000', '\U000F7FFF'
	firstOther, lastOther = '\U000F8000', '\U000FFFFD'
)

type kept struct {
	all   *regexp.Regexp
	sites map[string]bool
}

// keptWords finds what stays as it is.
func keptWords(st *study.Study) kept {
	k := kept{sites: map[string]bool{}}
	parts := []string{`[\x{F0000}-\x{FFFFD}]`, "`[^`]*`", `"[^"]*"`, `\[+[a-z_-]+\]+`, `(?:\.{0,2}/|[A-Z]:\\)[^\s,;()]+`, `[^\s,;:()]+\.[a-z]\w*`, `[a-z]+_[a-z_]+`, `[a-z]+(?:-[a-z]+)+`, `(?:model )?survival: [^·]* · detection: [a-z0-9_ +"]*`, `unseen [a-z]+`, `--[a-z-]+`, `there are [^\s,]+(?:, [^\s,;]+)+`, regexp.QuoteMeta(cmp.Or(st.Title, "\x00"))}
	var names []string
	animal, occasion := st.Nouns()
	for _, noun := range []string{animal.One, animal.Several, occasion.One, occasion.Several} {
		// What was said once is not said anew.
		if strings.Contains(noun, " ") {
			names = append(names, noun)
		}
	}
	for _, x := range st.Sites {
		// A small number is more often a number than the name of an occasion.
		if _, err := strconv.ParseFloat(x.Name, 64); err != nil || len(x.Name) > 2 {
			names = append(names, x.Name)
			k.sites[x.Name] = true
		}
		for _, r := range x.Rows {
			names = append(names, x.Name+"/"+r.Name)
		}
	}
	for _, m := range st.Models {
		names = append(names, m.Name)
	}
	slices.SortFunc(names, func(a, b string) int { return cmp.Compare(len(b), len(a)) })
	for _, n := range names {
		parts = append(parts, regexp.QuoteMeta(n))
	}
	k.all = regexp.MustCompile(strings.Join(parts, "|"))
	return k
}

// put puts a sign in the place of each thing that stays; spans are the things.
func put(text string, k kept) (string, map[rune]string) {
	spans := map[rune]string{}
	var b strings.Builder
	site, other, end := rune(firstSite), rune(firstOther), 0
	for _, at := range k.all.FindAllStringIndex(text, -1) {
		what := text[at[0]:at[1]]
		before, _ := utf8.DecodeLastRuneInString(text[:at[0]])
		after, _ := utf8.DecodeRuneInString(text[at[1]:])
		word := func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }
		if first, _ := utf8.DecodeRuneInString(what); word(first) && word(before) || site == lastSite || other == lastOther {
			continue // a part of another word
		}
		if last, _ := utf8.DecodeLastRuneInString(what); word(last) && word(after) {
			continue
		}
		b.WriteString(text[end:at[0]])
		end = at[1]
		sign := &other
		if k.sites[what] {
			sign = &site
		}
		spans[*sign] = what
		b.WriteRune(*sign)
		*sign++
	}
	b.WriteString(text[end:])
	return b.String(), spans
}

func takeBack(text string, spans map[rune]string) string {
	var b strings.Builder
	for _, r := range text {
		if s, ok := spans[r]; ok {
			b.WriteString(s)
		} else {
			b.WriteRune(r)
		}
	}
	return b.String()
}

// group is a part of what was found, in what is said instead.
var group = regexp.MustCompile(`\$([0-9])`)

type spokenRule struct {
	from *regexp.Regexp
	to   string
}

// rules are those of a list, in their order, each as it stands within a sentence
// and at its beginning. In what is said {a} is the animal, {as} several, {o} the
// occasion, {os} several, {an a} and {an o} the noun with its article, {at} in, on
// or at an occasion; N in what is found is the name of an occasion.
func (s *speech) rules(list [][2]string) (out []spokenRule) {
	fill := strings.NewReplacer("{a}", s.animal.One, "{as}", s.animal.Several, "{o}", s.occasion.One, "{os}", s.occasion.Several,
		"{an a}", article(s.animal.One), "{an o}", article(s.occasion.One), "{at}", s.at)
	const begin = `\b`
	for _, r := range list {
		from := strings.ReplaceAll(r[0], "N", `([\x{F0000}-\x{F7FFF}])`)
		to := group.ReplaceAllString(fill.Replace(r[1]), "$${$1}")
		if strings.HasPrefix(from, "(") && strings.HasPrefix(to, "${1}") {
			from = "((?i)" + from[1:] // begins as it began
		}
		first, n := utf8.DecodeRuneInString(from)
		if last := from[len(from)-1]; last >= 'a' && last <= 'z' {
			from += `\b`
		}
		out = append(out, spokenRule{regexp.MustCompile(begin + from), to})
		if unicode.IsLower(first) {
			out = append(out, spokenRule{regexp.MustCompile(begin + string(unicode.ToUpper(first)) + from[n:]), capital(to)})
		}
	}
	return out
}

func article(noun string) string {
	if strings.ContainsRune("aeiouAEIOU", rune(noun[0])) {
		return "an " + noun
	}
	return "a " + noun
}

func capital(s string) string {
	first, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[n:]
}

// ofOccasions are first the sentences that are about rivers and readers, then words.
var ofOccasions = [][2]string{
	{`detection by a row`, "detection"},
	{`detection for each row`, "detection for each {o}"},
	{`for each site and row`, "for each {o}"},
	{`a second row of antennas or test passes at [^,]+, or a site farther down, would separate them`, "another {o} would separate them"},
	{`a fish that stays behind, leaves the river elsewhere, or loses its tag counts as dead`, "{an a} that leaves for good, or loses its mark, counts as dead"},
	{`whether a fish that did not come died, stayed behind, left the river elsewhere, or lost its tag`, "whether {an a} that was not seen again died, left for good, or lost its mark"},
	{`tagged fish of taggable size that were released here, not the whole run`, "tagged {as} that were released here, not the whole population"},
	{`where within a reach fish were lost`, "when within an interval {as} were lost"},
	{`a trap, a minimum length or a part of the season selects fish`, "the way of catching selects {as}"},
	{`sites are short compared with the reaches between them`, "occasions are short compared with the time between them"},
	{`deaths at a site`, "deaths while {as} are looked for"},
	{`schooling and shared predators`, "pairs, families and shared predators"},
	{`below each site, fish that were detected there mix with those that were not`, "after each {o}, {as} that were detected mix with those that were not"},
	{`a bypass with an antenna and its own mortality breaks this; so do rows that share noise`, "{as} that are always easier to find than others break this"},
	{`codes are read and recorded correctly; every reader works, or its outages are in the study`, "marks are read and recorded correctly, on every occasion"},
	{`a reader that is down looks like low detection, and like mortality at the last site`, "little effort looks like low detection, and like mortality on the last occasion"},
	{`fish move downstream in order, and have all passed`, "every {a} is followed through all {os}"},
	{`fish that stay, turn back or are still on their way count as dead \(study: as_of\)`, "{as} that leave for good count as dead"},
	{`a dead fish or a lost tag does not drift past a site`, "a dead {a} or a lost mark is not taken for a living {a}"},
	{`such tags \(ghost tags\) count as survivors`, "such {as} count as survivors"},
	{`the tagged fish represent the fish the estimates are meant for`, "the tagged {as} represent the {as} the estimates are meant for"},
	{`a bar for each site, the river running down`, "a bar for each {o}, the first at the top"},
	{`passage along the river`, "survival through the {os}"},
	{`streams as wide as they have fish, the river running down`, "bands as wide as they have {as}, the first {o} at the top"},
	{`streams are as wide`, "bands are as wide"},
	{`where fish were next seen`, "when {as} were next seen"},
	{`passed unseen, detected downstream`, "alive unseen, detected later"},
	{`followed by a detection downstream`, "followed by a later detection"},
	{`no fish are detected downstream`, "no {as} are detected later"},
	{`those seen there, and those estimated to have passed it unseen`, "those seen, and those estimated to have been alive and unseen"},
	{`those that passed it unseen`, "those that were alive and unseen"},
	{`fish that passes`, "fish that is alive"},
	{`fish that pass`, "fish that are alive"},
	{`detections at the two sites`, "detections on the two occasions"},
	{`the share that passed a site is the product of survival from release to the site`, "the share that survived to {an o} is the product of survival from release to it"},
	{`(passed|passing) unseen`, "alive unseen"},
	{`fish passed \(`, "{as} alive ("},
	{`^fish passed$`, "{as} alive"},
	{`where (they were|fish were) next seen`, "when $1 next seen"},
	{`at each of ([0-9]+) sites`, "{at} each of $1 {os}"},
	{`passed at N`, "survival to $1"},
	{`fish released above$`, "{as} released before"},
	{`(tagged|released|seen|detected|seen again|detected again|next seen|next detected) there`, "$1 then"},
	{`passed N`, "survived to $1"},
	{`passing N`, "surviving to $1"},
	{`passes N`, "survives to $1"},
	{`pass N`, "survive to $1"},
	{`passed`, "survived"},
	{`passes`, "survives"},
	{`passing`, "surviving"},
	{`passages?`, "survival"},
	{`above (each|a|the) site`, "before $1 {o}"},
	{`below (a|the first|the last) site`, "after $1 {o}"},
	{`again below it`, "again after it"},
	{`(each|every|a) site (below|farther down)`, "$1 later {o}"},
	{`(the )?sites? (below|farther down|downstream)`, "later {os}"},
	{`(the )?sites? (above|upstream)`, "earlier {os}"},
	{`(above|upstream of) N`, "before $2"},
	{`(below|downstream of) N`, "after $2"},
	{`at N`, "{at} $1"},
	{`enter at`, "enter {at}"},
	{`at (each|a|every|the same|the|one|two|some|all|several|later|both) (later |same )?sites`, "{at} $1 $2{os}"},
	{`at (each|a|every|the same|the|one|some) (later |same |first |last )?site`, "{at} $1 $2{o}"},
	{`farther down`, "later"},
	{`downstream`, "later"},
	{`upstream`, "earlier"},
	{`along the river`, "through the {os}"},
	{`down the river`, "through the {os}"},
	{`the river`, "the study"},
	{`river`, "study"},
	{`reaches`, "intervals"},
	{`a reach`, "an interval"},
	{`each reach`, "each interval"},
	{`reach`, "interval"},
	{`rows? of antennas`, "way of looking"},
	{`a further row`, "a further search"},
	{`(antennas|arrays)`, "searches"},
	{`an (antenna|array)`, "a search"},
	{`(antenna|array)`, "search"},
	{`sites`, "{os}"},
	{`a site`, "{an o}"},
	{`site`, "{o}"},
}

// ofAnimals are the words for what is followed. Fish is one or several: what stands
// before tells.
var ofAnimals = [][2]string{
	{`a fish`, "{an a}"},
	{`(each|every|one|this one|this|another|a single|per|which|the last|the first|1) fish`, "$1 {a}"},
	{`a (tagged|dead|lost|live) fish`, "a $1 {a}"},
	{`fish's`, "{a}'s"},
	{`fish (is|was|has|that is|that does|enters|goes)\b`, "{a} $1"},
	{`fish`, "{as}"},
}
