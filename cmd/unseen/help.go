package main

import (
	"io"
	"regexp"
	"strings"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cmd/unseen/internal/text"
)

func init() {
	cli.HelpPrinter = help
	name := cli.FlagStringer
	cli.FlagStringer = func(f cli.Flag) string { return again.ReplaceAllString(name(f), " …") }
}

// again is how a flag that can be repeated is shown: its name a second time.
var again = regexp.MustCompile(` \[ --\S+ \S+ \]`)

// help writes a help text, no wider than where it is written to.
func help(out io.Writer, template string, data any) {
	var b strings.Builder
	cli.HelpPrinterCustom(&b, template, data, nil)
	io.WriteString(out, text.Lines(b.String(), text.Width(out), "")) // a writer that fails is noted in run
}
