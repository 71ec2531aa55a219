package propose

import (
	"regexp"
	"slices"
)

// Headings that tell times apart, in the languages of most crews. They are hints
// only.
var (
	timeWords = []string{"time", "date", "datum", "zeit", "tid", "fecha", "hora", "heure", "data", "czas", "aika", "pvm", "päivä", "dato", "klok",
		"дата", "время", "日", "時", "when", "uhr", "ora", "giorno", "jour", "día", "dia"}
	clockWords = []string{"time", "zeit", "uhr", "tid", "klok", "kl", "kl.", "heure", "hora", "ora", "orario", "czas", "godz", "aika", "klo", "klo.",
		"время", "час", "時", "hour", "clock", "tijd", "uur",
		"čas", "ura", "vrijeme", "vreme", "laikas", "laiks", "kell", "kellaaeg", "idő", "saat", "tími", "klukkan", "година", "시간", "시각"}
	releaseWords = []string{"releas", "let go", "laid out", "freila", "freil", "aussetz", "ausgesetz", "besatz", "entlass", "relâch", "relach", "lâch",
		"remise", "mise à l", "suelta", "soltado", "solta", "soltura", "libera", "liberta", "rilasc", "immiss", "utsätt", "utsatt", "utsett", "satt ut", "släpp",
		"slipp", "slupp", "frigi", "udsat", "udsæt", "genudsat", "vapau", "istut", "wypuszcz", "uwoln", "zarybi", "выпуск", "выпущ", "отпущ", "放流", "uitgezet", "uitzet", "losgelaten", "vrijgelaten"}
	// Times of what is no passage and no release.
	asideWords = []string{"download", "upload", "export", "import", "sync", "receiv", "server", "stored", "saved", "archiv", "ausgelesen", "auslese", "abruf", "abgerufen",
		"hochgeladen", "télécharg", "telecharg", "descarg", "letto", "scaric", "lastet", "nedlast", "hämt", "hentet", "lataus", "ladattu", "purettu", "pobran",
		"wgran", "odczyt da", "выгруз", "загруз", "取込", "取得", "ダウンロード", "battery", "servic", "check", "kontroll", "birth", "born", "hatch", "enter", "erfasst", "eingabe", "saisie", "caught", "capture",
		"captur", "fang", "fang", "pêche", "pesca", "fångst", "tagged", "marked", "markier", "marquage", "marcado", "marca", "merket", "merking", "märkt", "mærk", "merkintä", "znakow", "марк", "мечен", "poimi", "kiinni",
		"measur", "gemessen", "weigh", "upload", "last", "letzte", "dernier", "ultim", "úl", "siste", "sista"}
)

var (
	dottedTime  = regexp.MustCompile(`^([01]?\d|2[0-3])\.[0-5]\d(\.[0-5]\d)?$`)
	hyphenTime  = regexp.MustCompile(`^([01]?\d|2[0-3])-[0-5]\d-[0-5]\d$`)
	compactTime = regexp.MustCompile(`^([01]\d|2[0-3])[0-5]\d([0-5]\d)?$`)
)

// spread is the share of a column's values that differ.
func (c *sampleColumn) spread() float64 { return float64(len(c.values)) / float64(max(1, c.filled)) }

// meanTime is the mean of its times, in seconds.
func (c *sampleColumn) meanTime() float64 { return float64(c.sumMs) / float64(max(1, c.times)) }

// hours are what a date without a time of day may be off.
const hours = 12 * 3600

// timeScore says how much a column is the time of a sighting, or of a release.
// What was read and what was loaded into a computer differ in how many values
// they have, and in which comes first.
func (t *sample) timeScore(i int, release bool) float64 {
	c := &t.columns[i]
	s := 4 * float64(c.times) / float64(max(1, t.records))
	hint := hinted(c.name, timeWords)
	if release {
		hint = hinted(c.name, releaseWords)
	}
	if hint {
		s += 3
	}
	if hinted(c.name, asideWords) && !hinted(c.name, releaseWords) {
		s -= 4
	}
	spread, clocked := c.spread(), c.dateOnly < c.times
	if k := t.clockOf(i, release); k >= 0 {
		spread, clocked = max(spread, t.columns[k].spread()), true
	}
	if clocked {
		s += 2
		if !release {
			s += 3
		}
	}
	if !release {
		s += 3 * spread
	}
	for k := range t.columns {
		o := &t.columns[k]
		if k == i || !o.isTime() {
			continue
		}
		// A read comes before what is done with it; a release after the capture.
		if d := c.meanTime() - o.meanTime(); d < -hours && !release || d > hours && release {
			s++
		}
	}
	return s
}

// bestTime is the likeliest column of times; -1 where there is none.
func (t *sample) bestTime(release bool) int {
	for _, role := range map[bool][]string{true: {"released"}, false: {"time", "date"}}[release] {
		if i, ok := t.told(role); ok {
			return i
		}
	}
	best, most := -1, 0.0
	for i := range t.columns {
		if !t.columns[i].isTime() {
			continue
		}
		if s := t.timeScore(i, release); best < 0 || s > most {
			best, most = i, s
		}
	}
	return best
}

// timeColumn is the likeliest column of times of sightings.
func (t *sample) timeColumn() int { return t.bestTime(false) }

// releaseColumn is the likeliest column of release times of the fish table.
func (t *sample) releaseColumn() int { return t.bestTime(true) }

// clockOf is the column of the time of day that goes with a column of dates
// alone; -1 where there is none.
func (t *sample) clockOf(date int, release bool) int {
	if i, ok := t.told("clock"); ok && i != date {
		return i
	}
	if x := &t.columns[date]; x.dateOnly < x.times {
		return -1
	}
	best, most := -1, -1.0
	for i := range t.columns {
		c := &t.columns[i]
		if i == date || !c.mostly(c.clocks) || c.mostly(c.times) {
			continue
		}
		s := c.spread()
		if release {
			s = 0
			if hinted(c.name, releaseWords) {
				s += 4
			}
		}
		if hinted(c.name, asideWords) && !hinted(c.name, releaseWords) {
			s -= 3
		}
		switch i - date {
		case 1:
			s += 2
		case -1, 2:
			s++
		}
		if best < 0 || s > most {
			best, most = i, s
		}
	}
	if best < 0 {
		best = t.dottedClock(date)
	}
	if best < 0 {
		best = slices.IndexFunc(t.columns, func(c sampleColumn) bool {
			return hinted(c.name, clockWords) && c.compactClock() && c.filled*5 >= t.records*4
		})
	}
	return best
}

// compactClock tells whether a column's values are times of day in figures
// alone, as 143205 or 1432, and all of one kind: where a spreadsheet dropped
// noughts in front, 1432 may be a quarter past midnight.
func (c *sampleColumn) compactClock() bool {
	long, short := 0, 0
	for v := range c.values {
		switch {
		case !compactTime.MatchString(v):
			return false
		case len(v) == 6:
			long++
		default:
			short++
		}
	}
	return (long == 0) != (short == 0)
}

// dottedClock is the column whose values are all times of day with a point, as
// 20.30, and differ; of several that beside the dates.
func (t *sample) dottedClock(date int) int {
	best := -1
	for i := range t.columns {
		c := &t.columns[i]
		n, long := 0, 0
		for v := range c.values {
			if !dottedTime.MatchString(v) {
				continue
			}
			if n++; slices.Contains([]byte("345"), v[len(v)-2]) {
				long++
			}
		}
		// One in twenty may be a heading, or none.
		if i != date && n >= 10 && n*20 >= len(c.values)*19 && long > n/5 && c.filled*5 >= t.records*4 && (best < 0 || i == date+1) {
			best = i
		}
	}
	return best
}
