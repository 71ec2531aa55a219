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
		// The library's marks of a flag's value are for its own help.
		s = strings.ReplaceAll(s, "`", "") + "complete -c unseen -f -n '__fish_seen_subcommand_from completion' -a '" + strings.Join(shells, " ") + "'\n"
	case "man":
		return manual(app, line.Version(), line.Built())
	case "powershell":
		return powershell(app)
	case "zsh":
		return "autoload -Uz compinit bashcompinit\n(( ${+functions[compdef]} )) || compinit -i\nbashcompinit\n" + bash(app)
	default:
		return bash(app)
	}
	if err != nil {
		panic(err) // templates of the library
	}
	return s
}

// manual is the manual page, of a version built on a day; its commands are parts
// of one section.
func manual(app *cli.App, version, day string) string {
	s, err := app.ToManWithSection(1)
	if err != nil {
		panic(err) // templates of the library
	}
	top, commands, _ := strings.Cut(s, "\n.SH COMMANDS\n")
	_, top, _ = strings.Cut(top, "\n.SH NAME\n")
	return fmt.Sprintf(".nh\n.TH UNSEEN 1 %q %q\n.SH NAME\n", day, "unseen "+version) + top +
		"\n.SH COMMANDS\n" + strings.ReplaceAll("\n"+commands, "\n.SH ", "\n.SS ")
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
	fmt.Fprintf(&b, "\telif [ \"${COMP_WORDS[1]}\" = completion ]; then\n\t\twords='%s'\n", strings.Join(shells, " "))
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
    elseif ($typed[1] -eq 'completion') { $words = @(%s) }
    elseif ("$word".StartsWith('-')) { $words = $flags[$typed[1]] }
    else { return }
    $words | Where-Object { $_ -like "$word*" } | ForEach-Object { [System.Management.Automation.CompletionResult]::new($_) }
}
`, quoted(append(names, "--help", "--version")), quoted(shells))
	return b.String()
}
