// Package argv lets flags stand before or after the study file: it moves them
// forward, to where the command-line library reads them.
package argv

import (
	"fmt"
	"regexp"
	"runtime"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"example.org/unseen/history"
)

// Forward returns args (args[0] is the program) with every flag of the command
// moved before its positional arguments, which then stand after "--". What
// follows a "--" in args is positional. A flag that the command does not have
// is an error that proposes the nearest one. A call without a known command is
// returned as it is.
func Forward(app *cli.App, args []string) ([]string, error) {
	if len(args) == 0 {
		return args, nil
	}
	at := 1
	for at < len(args) && isFlag(args[at]) {
		at++
	}
	if at == len(args) {
		return args, nil
	}
	name := args[at]
	i := slices.IndexFunc(app.Commands, func(c *cli.Command) bool { return c.HasName(name) })
	if i < 0 {
		return args, nil
	}

	takesValue := map[string]bool{"help": false, "h": false}
	once := map[string]string{} // the names of those that take one value, to their first
	whole := map[string]bool{}  // of those that take a whole number
	for _, f := range app.Commands[i].Flags {
		v := true
		if d, ok := f.(cli.DocGenerationFlag); ok {
			v = d.TakesValue()
		}
		many, ok := f.(cli.DocGenerationSliceFlag)
		_, number := f.(*cli.IntFlag)
		_, seed := f.(*cli.Uint64Flag)
		for _, n := range f.Names() {
			takesValue[n], whole[n] = v, number || seed
			if v && !(ok && many.IsSliceFlag()) {
				once[n] = f.Names()[0]
			}
		}
	}

	var flags, rest []string
	before := map[string]bool{}
	for in := args[at+1:]; len(in) > 0; in = in[1:] {
		a := in[0]
		if a == "--" {
			rest = append(rest, in[1:]...)
			break
		}
		if !isFlag(a) {
			rest = append(rest, a)
			continue
		}
		flag, given, joined := strings.Cut(strings.TrimLeft(a, "-"), "=")
		value, known := takesValue[flag]
		if !known {
			return nil, unknownFlag(name, a, takesValue)
		}
		if flag == "help" || flag == "h" {
			// What else stands there is not looked at: help is of the command.
			return append(slices.Clone(args[:at+1]), "--help"), nil
		}
		if first := once[flag]; first != "" {
			if before[first] {
				return nil, fmt.Errorf("--%s is given twice; give one value", first)
			}
			before[first] = true
		}
		start := len(flags)
		flags = append(flags, a)
		if value && !joined {
			if len(in) == 1 {
				return nil, fmt.Errorf("%s needs a value", a)
			}
			in = in[1:]
			given = in[0]
			flags = append(flags, given)
		}
		if whole[flag] {
			number := wholeNumber.FindStringSubmatch(given)
			if number == nil {
				return nil, fmt.Errorf("--%s is %q; it is a whole number", flag, given)
			}
			flags = append(flags[:start], "--"+flag+"="+number[1]+number[2])
		}
		// In a comparison a model without rest is one of several.
		if value && strings.TrimSpace(given) == "" && !(name == "compare" && flag == "rest") {
			return nil, fmt.Errorf("%s needs a value, and that is empty", strings.TrimSuffix(a, "="))
		}
	}
	out := slices.Concat(args[:at+1], flags)
	if len(rest) > 0 {
		out = append(append(out, "--"), rest...)
	}
	return out, nil
}

// wholeNumber parts the sign and the digits from leading zeros, for which the
// library would read 010 as eight.
var wholeNumber = regexp.MustCompile(`^(-?)0*([0-9]+)$`)

// isFlag: a lone "-" is a positional argument.
func isFlag(a string) bool { return len(a) > 1 && a[0] == '-' }

func unknownFlag(command, given string, known map[string]bool) error {
	word, _, _ := strings.Cut(strings.TrimLeft(given, "-"), "=")
	var names []string
	for n := range known {
		if len(n) > 1 {
			names = append(names, n)
		}
	}
	if near := Nearest(word, names); near != "" {
		return fmt.Errorf("%s has no flag --%s; did you mean --%s?", command, word, near)
	}
	return fmt.Errorf("%s has no flag --%s; its flags: unseen %s --help", command, word, command)
}

// Nearest is the candidate that word begins, else the one it was most likely
// meant to be, or "".
func Nearest(word string, candidates []string) string {
	candidates = slices.Sorted(slices.Values(candidates))
	for _, c := range candidates {
		if len(word) > 1 && strings.HasPrefix(c, strings.ToLower(word)) {
			return c
		}
	}
	return history.Nearest(word, candidates)
}

// Quoted is a word of a command line, as it is written there on this system.
func Quoted(s string) string { return quoted(runtime.GOOS == "windows", s) }

// quoted has double quotes, which every shell knows. What means something between
// them is escaped as the programs of Windows read it; elsewhere single quotes take
// all meaning off.
func quoted(windows bool, s string) string {
	special := " \t\"'$*?&|<>()[]{};!`~#^%,=@"
	if !windows {
		special = " \t\"'$*?&|<>()[]{};!`~#\\"
	}
	switch {
	case s != "" && !strings.ContainsAny(s, special):
		return s
	case windows:
		bare := strings.TrimRight(s, `\`)
		return `"` + strings.ReplaceAll(bare, `"`, `\"`) + strings.Repeat(`\`, 2*(len(s)-len(bare))) + `"`
	case strings.ContainsAny(s, "\"$`\\!"):
		return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
	}
	return `"` + s + `"`
}
