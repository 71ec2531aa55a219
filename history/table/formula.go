package table

import "strings"

// starts are the characters with which a text runs as a formula in a
// spreadsheet.
const starts = "=+-@\t\r"

// Harmless is a text for a cell of a CSV file: one that a spreadsheet would run
// as a formula gets an apostrophe before it, which spreadsheets take for the
// sign of a text. A number is none, nor is a lone sign. [TakenBack] undoes it.
func Harmless(text string) string {
	bare := strings.TrimLeft(text, "'")
	if len(bare) < 2 || strings.IndexByte(starts, bare[0]) < 0 {
		return text
	}
	if _, number := ParseNumber(text); number {
		return text
	}
	return "'" + text
}

// TakenBack is a text as it was before [Harmless].
func TakenBack(text string) string {
	if text == "" || text[0] != '\'' {
		return text
	}
	if was := text[1:]; Harmless(was) == text {
		return was
	}
	return text
}
