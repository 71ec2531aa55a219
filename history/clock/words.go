package clock

import (
	"bytes"
	"strings"
	"unicode"
	"unicode/utf8"
)

// monthNames are the first letters of the months' names, January first, in the
// languages of most crews; each stands for one month in all of them.
var monthNames = func() map[string]int {
	m := map[string]int{}
	for i, names := range [12]string{
		"jan gen ene tam sty янв", "feb fev fév hel lut фев", "mar mär mrz maa мар", "apr avr abr huh kwi апр",
		"may mai maj mei mag tou май мая", "jun giu kes cze июн", "jul lug hei lip июл", "aug aoû aou ago elo sie авг",
		"sep set syy wrz сен", "oct okt ott out lok paź paz окт", "nov lis ноя", "dec déc dez des dic jou gru дек",
	} {
		for _, name := range strings.Fields(names) {
			m[name] = i + 1
		}
	}
	return m
}()

// monthName reads a month's name, or its first three letters or more, and a
// point behind it.
func (s *scanner) monthName() int {
	j := s.i
	for j < len(s.b) && (s.b[j]|0x20 >= 'a' && s.b[j]|0x20 <= 'z' || s.b[j] >= utf8.RuneSelf) {
		j++
	}
	word := s.b[s.i:j]
	m := 0
	if len(word) >= 3 && isASCII(word) {
		m = monthNames[string([]byte{word[0] | 0x20, word[1] | 0x20, word[2] | 0x20})]
	} else if r := bytes.Runes(bytes.ToLower(word)); len(r) >= 3 {
		m = monthNames[string(r[:3])]
	}
	if m == 0 || m == 3 {
		// Three letters are not enough of two months in French, and of the
		// Finnish November.
		for name, month := range map[string]int{"juin": 6, "juil": 7, "marras": 11} {
			if len(word) >= len(name) && strings.EqualFold(string(word[:len(name)]), name) {
				m = month
			}
		}
	}
	if m == 0 {
		return 0
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
