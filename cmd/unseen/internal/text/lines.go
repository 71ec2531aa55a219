package text

import (
	"regexp"
	"strings"
)

// Reflow joins the lines of each paragraph, so that they can be broken anew. A
// line that begins with a blank, such as one of a list, stays a line.
func Reflow(s string) string {
	var out []string
	joins := false
	for _, line := range strings.Split(s, "\n") {
		own := line == "" || line[0] == ' '
		if joins && !own {
			out[len(out)-1] += " " + line
		} else {
			out = append(out, line)
		}
		joins = !own
	}
	return strings.Join(out, "\n")
}

// hangs is what stands before the text of a line: blanks, or a name and the gap
// after it.
var hangs = regexp.MustCompile(`^( *)(\S+(?: \S+)* {2,})?`)

// leastText is how narrow text behind a name may be.
const leastText = 30

// Lines breaks the lines of s that are wider than that. What follows stands under
// the line's text: behind its indent, or behind the name at its beginning that
// two blanks set apart; more is put before it.
func Lines(s string, wide int, more string) string {
	lines := strings.Split(s, "\n")
	for i, line := range lines {
		if width(line) <= wide {
			continue
		}
		lead := hangs.FindString(line)
		if width(lead) > wide-leastText {
			lead = hangs.FindStringSubmatch(line)[1]
		}
		indent := "\n" + strings.Repeat(" ", width(lead)) + more
		lines[i] = lead + strings.Join(wrap(line[len(lead):], wide-width(lead)-width(more)), indent)
	}
	return strings.Join(lines, "\n")
}
