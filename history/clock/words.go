package clock

import (
	"bytes"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// monthNames are the first letters of the months' names, January first, in the
// languages of most crews; each stands for one month in all of them.
var monthNames = func() map[string]int {
	m := map[string]int{}
	for i, names := range [12]string{
		"jan jän gen ene tam sty янв", "feb fev fév hel lut фев", "mar mär mrz mrt maa мар már", "apr avr abr huh kwi апр ápr",
		"may mai maj mei mag tou май мая maí máj", "jun giu kes cze июн jún jūn", "jul lug hei lip июл júl jūl", "aug aoû aou ago elo sie авг ágú",
		"sep set syy wrz сен", "oct okt ott out lok paź paz окт", "nov lis ноя nóv", "dec déc dez des dic jou gru дек",
	} {
		for _, name := range strings.Fields(names) {
			m[name] = i + 1
		}
	}
	return m
}()

// longMonths are months of which three letters are not enough, in French and of
// the Finnish November.
var longMonths = map[string]int{"juin": 6, "juil": 7, "marras": 11}

// monthWords are names of months, nominative and genitive, that their first three
// letters do not tell, or that would make too many places months: Dublin is not
// in April. Left out is what two languages give to two months.
var monthWords = func() map[string]int {
	m := map[string]int{}
	for i, names := range [12]string{
		"leden ledna січень січня sausis sausio jaanuar януари",
		"únor února лютий лютого vasaris vasario veebruar",
		"březen března березень березня kovas kovo",
		"duben dubna квітень квітня balandis balandžio",
		"květen května травень травня gegužė gegužės",
		"červen června червень червня birželis birželio juuni юни",
		"červenec července липень липня liepa liepos juuli юли",
		"srpen srpna серпень серпня rugpjūtis rugpjūčio avgust avgusta",
		"září вересень вересня rugsėjis rugsėjo szeptember",
		"říjen října жовтень жовтня spalis spalio",
		"листопад листопада lapkritis lapkričio ноември",
		"prosinec prosince грудень грудня detsember",
	} {
		for _, name := range strings.Fields(names) {
			m[name] = i + 1
		}
	}
	return m
}()

// croatianMonths are the names of months in Croatian alone, whole and cut short.
var croatianMonths = func() map[string]int {
	m := map[string]int{}
	for i, names := range [12]string{
		"siječanj siječnja sij", "veljača veljače velj vel", "ožujak ožujka ožu", "travanj travnja tra", "svibanj svibnja svi", "lipanj lipnja",
		"srpanj srpnja", "kolovoz kolovoza kol", "rujan rujna ruj", "", "studeni studenoga studenog stu", "prosinac prosinca",
	} {
		for _, name := range strings.Fields(names) {
			m[name] = i + 1
		}
	}
	return m
}()

// unsureMonths are the months that a name is in Polish or Czech, and in Croatian.
var unsureMonths = map[string][2]int{"lip": {7, 6}, "srp": {8, 7}, "lis": {11, 10}, "listopad": {11, 10}, "listopada": {11, 10}}

// polishMonths begin the names of months in Polish or Czech alone.
var polishMonths = []string{"sty", "lut", "kwi", "cze", "lipc", "lipi", "sie", "wrz", "paź", "paz", "gru",
	"led", "úno", "bře", "dub", "kvě", "čer", "srpe", "září", "říj", "listopadu"}

// slavicMonth reads a name that is of two months, or Croatian; 0 where it is
// neither. A point before it shows an ordinal number, which Polish has not.
func (s *scanner) slavicMonth(word string) int {
	if both, ok := unsureMonths[word]; ok {
		s.met |= unsureMonth
		if word == "listopada" {
			if bytes.HasSuffix(bytes.TrimRight(s.b[:s.i], " "), []byte(".")) {
				s.met |= Croatian
			} else {
				s.met |= Polish
			}
		}
		if s.months == Croatian {
			return both[1]
		}
		return both[0]
	}
	m := croatianMonths[word]
	if m > 0 {
		s.met |= Croatian
	}
	return m
}

// monthName reads a month's name, or its first three letters or more, and a
// point behind it.
func (s *scanner) monthName() int {
	j := s.i
	for j < len(s.b) && (s.b[j]|0x20 >= 'a' && s.b[j]|0x20 <= 'z' || s.b[j] >= utf8.RuneSelf) {
		j++
	}
	if j == s.i {
		return 0
	}
	word := s.b[s.i:j]
	lower := string(bytes.ToLower(word))
	m := s.slavicMonth(lower)
	if m == 0 {
		m = monthWords[lower]
	}
	for name, month := range longMonths {
		if len(word) >= len(name) && strings.EqualFold(string(word[:len(name)]), name) {
			m = month
		}
	}
	switch {
	case m > 0:
	case len(word) >= 3 && isASCII(word):
		m = monthNames[string([]byte{word[0] | 0x20, word[1] | 0x20, word[2] | 0x20})]
	default:
		if r := bytes.Runes(bytes.ToLower(word)); len(r) >= 3 {
			m = monthNames[string(r[:3])]
		}
	}
	if m == 0 {
		return 0
	}
	if slices.ContainsFunc(polishMonths, func(begin string) bool { return strings.HasPrefix(lower, begin) }) {
		s.met |= Polish
	}
	if s.i = j; s.peek() == '.' && s.i+1 < len(s.b) && s.b[s.i+1] == ' ' {
		s.i++
	}
	return m
}

func isASCII(b []byte) bool {
	for _, c := range b {
		if c >= utf8.RuneSelf {
			return false
		}
	}
	return true
}

// toPlain are the signs beyond ASCII that times are written with.
var toPlain = strings.NewReplacer("年", "-", "月", "-", "日", " ", "時", ":", "时", ":", "分", ":", "秒", "",
	"午前", "am ", "午後", "pm ", "上午", "am ", "下午", "pm ", "오전", "am ", "오후", "pm ",
	"／", "/", "：", ":", "–", "-", "‐", "-", "‑", "-", "−", "-")

// plain writes a value with signs of ASCII, but for letters.
func plain(b []byte) []byte {
	s := toPlain.Replace(string(b))
	s = strings.Map(func(r rune) rune {
		if r >= utf8.RuneSelf && unicode.IsSpace(r) {
			return ' '
		}
		return r
	}, s)
	return []byte(strings.TrimRight(strings.TrimSpace(s), ":- "))
}

// dayName reads on past the name of a day of the week, if there is one.
func (s *scanner) dayName() {
	i := s.i
	for s.peek()|0x20 >= 'a' && s.peek()|0x20 <= 'z' {
		s.i++
	}
	switch strings.ToLower(string(s.b[i:s.i])) {
	case "mon", "tue", "wed", "thu", "fri", "sat", "sun", "mo", "di", "mi", "do", "fr", "sa", "so",
		"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday":
		if c := s.peek(); c == ',' || c == '.' {
			s.i++
		}
		s.blanks()
		return
	}
	s.i = i
}

// skipWord reads on past one of the words, a point behind it and blanks.
func (s *scanner) skipWord(words ...string) bool {
	j := s.i
	for j < len(s.b) && (s.b[j]|0x20 >= 'a' && s.b[j]|0x20 <= 'z' || s.b[j] >= utf8.RuneSelf) {
		j++
	}
	if j == s.i {
		return false
	}
	word := s.b[s.i:j]
	for _, w := range words {
		if strings.EqualFold(string(word), w) {
			if s.i = j; s.peek() == '.' {
				s.i++
			}
			s.blanks()
			return true
		}
	}
	return false
}

// afterDate reads on past a point behind a date, as of Croatian ones, and the
// word that says it is a year or a day in Russian, Polish and Lithuanian. What
// parts the date from the time stays.
func (s *scanner) afterDate() {
	at := s.i
	if s.peek() == '.' {
		s.i++
	}
	end := s.i
	s.blanks()
	if s.skipWord("г", "год", "года", "р", "року", "r", "d") {
		for end = s.i; s.b[end-1] == ' ' || s.b[end-1] == '\t'; {
			end--
		}
	}
	if s.i = end; s.i < len(s.b) && s.peek() != ' ' && s.peek() != '\t' && s.peek() != ',' {
		s.i = at
	}
}

// europeanZones are hours ahead of UTC by the names of zones that are one place's
// only. Many loggers go on writing the name of the winter through the summer, and
// then nothing says which of the two their clock keeps.
var europeanZones = []struct {
	name           string
	summer, winter int64
}{{"CEST", 2, 0}, {"MESZ", 2, 0}, {"EEST", 3, 0}, {"CET", 0, 1}, {"MEZ", 0, 1}, {"EET", 0, 2}}

// european is the hours ahead of UTC that the name of a zone says for a time on
// the wall; ok is false for a name not known, and for one of the winter in
// summer.
func european(name []byte, wall int64) (hours int64, ok bool) {
	for _, z := range europeanZones {
		if string(name) != z.name {
			continue
		}
		if z.summer > 0 {
			return z.summer, true
		}
		t := time.UnixMilli(wall).UTC()
		y := t.Year()
		return z.winter, t.Before(lastSunday(y, time.March)) || !t.Before(lastSunday(y, time.October))
	}
	return 0, false
}

// lastSunday of a month, when clocks are changed in Europe.
func lastSunday(year int, month time.Month) time.Time {
	end := time.Date(year, month+1, 0, 0, 0, 0, 0, time.UTC)
	return end.AddDate(0, 0, -int(end.Weekday()))
}
