package dialect

import "strings"

// Delimiter settles what parts the fields from the header and up to 20
// records: a character that parts each of them into as many fields as the
// header; else the one that parts the header into most. A semicolon or tab in
// every record is no accident, while commas may be decimal, so these go first.
func Delimiter(start []byte, whole bool) byte {
	const candidates = "\t;,|"
	var header, n [len(candidates)]int
	var steady [len(candidates)]bool
	records, quoted, filled := 0, false, false
	end := func() {
		if filled {
			for i := range candidates {
				if records == 0 {
					header[i], steady[i] = n[i], n[i] > 0
				} else if n[i] != header[i] {
					steady[i] = false
				}
			}
			records++
		}
		n, filled = [len(candidates)]int{}, false
	}
	for _, c := range start {
		switch {
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == '\n':
			end()
		default:
			if i := strings.IndexByte(candidates, c); i >= 0 {
				n[i]++
			}
			if c != ' ' && c != '\r' {
				filled = true
			}
		}
		if records > 20 {
			break
		}
	}
	if whole || records == 0 {
		end()
	}
	best := byte(',')
	most := 0
	for i := range candidates {
		if steady[i] {
			return candidates[i]
		}
		if header[i] > most {
			best, most = candidates[i], header[i]
		}
	}
	return best
}

// DelimiterNames are the delimiters that are told of, in words.
var DelimiterNames = map[byte]string{';': "semicolons", '\t': "tabs", '|': "bars"}
