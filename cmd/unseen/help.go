package main

import (
	"io"
	"strings"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cmd/unseen/internal/text"
)

func init() { cli.HelpPrinter = help }

// help writes a help text, no wider than where it is written to.
func help(out io.Writer, template string, data any) {
	var b strings.Builder
	cli.HelpPrinterCustom(&b, template, data, nil)
	io.WriteString(out, text.Lines(b.String(), text.Width(out))) // a writer that fails is noted in run
}
