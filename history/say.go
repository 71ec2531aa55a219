package history

import (
	"fmt"
	"strconv"
	"strings"
)

// Say is [fmt.Sprintf] for sentences: whole numbers under %d and %v have their
// thousands separated by commas, "1,800 fish". The number of a line goes by
// Sprintf, so that an editor finds it.
func Say(format string, args ...any) string {
	for i, x := range args {
		switch n := x.(type) {
		case int:
			args[i] = grouped(n)
		case int32:
			args[i] = grouped(n)
		case int64:
			args[i] = grouped(n)
		}
	}
	return fmt.Sprintf(format, args...)
}

// grouped is a whole number in a sentence.
type grouped int64

func (n grouped) Format(f fmt.State, verb rune) {
	if verb != 'd' && verb != 'v' {
		fmt.Fprintf(f, fmt.FormatString(f, verb), int64(n))
		return
	}
	fmt.Fprint(f, Thousands(strconv.FormatInt(int64(n), 10)))
}

// Thousands separates the thousands of a decimal number by commas, and gives it
// the minus sign of texts: "−1,234.5".
func Thousands(number string) string {
	whole, fraction, _ := strings.Cut(number, ".")
	whole, negative := strings.CutPrefix(whole, "-")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if fraction != "" {
		whole += "." + fraction
	}
	if negative {
		return "−" + whole
	}
	return whole
}
