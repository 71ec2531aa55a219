package main

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cmd/unseen/internal/line"
)

// shells are what `unseen completion` writes for.
var shells = []string{"bash", "zsh", "fish", "powershell", "man"}

func completionCommand() *cli.Command {
	return &cli.Command{
		Name:      "completion",
		Usage:     "have a shell complete commands and flags; the manual page",
		UsageText: "unseen completion bash|zsh|fish|powershell|man",
		Description: "Writes what a shell needs to complete commands and flags, or the manual page:\n" +
			"  bash        source <(unseen completion bash), in ~/.bashrc\n" +
			"  zsh         source <(unseen completion zsh), in ~/.zshrc\n" +
			"  fish        unseen completion fish > ~/.config/fish/completions/unseen.fish\n" +
			"  powershell  unseen completion powershell | Out-String | Invoke-Expression, in $PROFILE\n" +
			"  man         unseen completion man > unseen.1 && man ./unseen.1\n\n" +
			"Example:  unseen completion bash",
		Action: completionAction,
	}
}

func completionAction(c *cli.Context) error {
	if c.NArg() != 1 || !slices.Contains(shells, c.Args().First()) {
		return line.Errorf("completion is for one of %s: unseen completion bash", strings.Join(shells, ", "))
	}
	_, err := io.WriteString(c.App.Writer, completion(c.App, c.Args().First()))
	return err
}

// completion is made of the commands and flags that there are.
func completion(app *cli.App, shell string) string {
	var s string
	var err error
	switch shell {
	case "fish":
		s, err = app.ToFishCompletion()
	case "man":
		s, err = app.ToManWithSection(1)
	case "powershell":
		return powershell(app)
	case "zsh":
		return "autoload -U +X bashcompinit && bashcompinit\n" + bash(app)
	default:
		return bash(app)
	}
	if err != nil {
		panic(err) // templates of the library
	}
	return s
}

// flagsOf are the flags of a command as they are typed.
func flagsOf(c *cli.Command) []string {
	var out []string
	for _, f := range c.Flags {
		for _, n := range f.Names() {
			if len(n) > 1 {
				out = append(out, "--"+n)
			}
		}
	}
	return append(out, "--help")
}

func bash(app *cli.App) string {
	var b bytes.Buffer
	var names []string
	for _, c := range app.VisibleCommands() {
		names = append(names, c.Name)
	}
	fmt.Fprintf(&b, "_unseen() {\n\tlocal cur=${COMP_WORDS[COMP_CWORD]} words=\n\tCOMPREPLY=()\n\tif [ \"$COMP_CWORD\" -eq 1 ]; then\n\t\twords='%s --help --version'\n", strings.Join(names, " "))
	b.WriteString("\telif [ \"${cur#-}\" != \"$cur\" ]; then\n\t\tcase ${COMP_WORDS[1]} in\n")
	for _, c := range app.VisibleCommands() {
		fmt.Fprintf(&b, "\t\t%s) words='%s' ;;\n", c.Name, strings.Join(flagsOf(c), " "))
	}
	b.WriteString("\t\tesac\n\tfi\n\t[ -z \"$words\" ] || COMPREPLY=($(compgen -W \"$words\" -- \"$cur\"))\n}\ncomplete -o default -F _unseen unseen\n")
	return b.String()
}

func powershell(app *cli.App) string {
	var b bytes.Buffer
	quoted := func(words []string) string { return "'" + strings.Join(words, "', '") + "'" }
	var names []string
	b.WriteString("Register-ArgumentCompleter -Native -CommandName unseen -ScriptBlock {\n    param($word, $line, $at)\n    $flags = @{\n")
	for _, c := range app.VisibleCommands() {
		names = append(names, c.Name)
		fmt.Fprintf(&b, "        '%s' = @(%s)\n", c.Name, quoted(flagsOf(c)))
	}
	fmt.Fprintf(&b, `    }
    $typed = @($line.CommandElements | ForEach-Object { "$_" })
    if ($typed.Count -lt 2 -or ($typed.Count -eq 2 -and $word)) { $words = @(%s) }
    elseif ("$word".StartsWith('-')) { $words = $flags[$typed[1]] }
    else { return }
    $words | Where-Object { $_ -like "$word*" } | ForEach-Object { [System.Management.Automation.CompletionResult]::new($_) }
}
`, quoted(append(names, "--help", "--version")))
	return b.String()
}
