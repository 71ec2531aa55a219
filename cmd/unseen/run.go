package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"syscall"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cmd/unseen/internal/argv"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/cmd/unseen/internal/process"
	"example.org/unseen/cmd/unseen/internal/progress"
	"example.org/unseen/cmd/unseen/internal/text"
)

// Exit codes.
const (
	exitUsable      = 0   // numbers usable, warnings allowed
	exitRefused     = 1   // refused, not converged, or nothing could be fitted
	exitCall        = 2   // the call is wrong
	exitInterrupted = 130 // SIGINT; 143 after SIGTERM, 129 after SIGHUP
)

// run is the program: it returns the exit code.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	out := &watched{w: stdout}
	if out.clock = progress.Watch(stderr); out.clock != nil {
		stderr = out.clock
		defer out.clock.Stop()
	}
	app := newApp(stdin, out, stderr)
	var unknown error
	app.CommandNotFound = func(_ *cli.Context, name string) { unknown = commandNotFound(app, name) } // of `unseen help NAME`
	args, err := argv.Forward(app, args)
	if err != nil {
		err = line.Errorf("%w", err)
	} else {
		err = errors.Join(line.Blamed(args, app.RunContext(ctx, args)), unknown)
	}
	out.clock.Stop()
	if out.err != nil {
		err = out.err
	}
	switch {
	case err == nil:
		return exitUsable
	case errors.Is(out.err, syscall.EPIPE): // as after | head
		return process.Unread
	case errors.Is(err, context.Canceled) && ctx.Err() != nil:
		fmt.Fprintln(stderr, process.Interrupted)
		return process.ExitCode(ctx)
	case errors.Is(err, line.ErrNotUsable):
		return exitRefused
	case errors.Is(err, line.ErrCall), errors.As(err, new(atomicfile.Refusal)):
		line.Complain(app, err)
		return exitCall
	default:
		line.Complain(app, err)
		return exitRefused
	}
}

// watched remembers that the answer could not be written (a full disk, a
// closed pipe).
type watched struct {
	w     io.Writer
	err   error
	clock *progress.Clock // of the terminal, until the answer comes
}

func (o *watched) Write(b []byte) (int, error) {
	o.clock.Stop()
	n, err := o.w.Write(b)
	if err != nil && o.err == nil {
		o.err = fmt.Errorf("the answer could not be written: %w", err)
	}
	return n, err
}

// Fd lets the terminal behind it be asked for its width.
func (o *watched) Fd() uintptr { return text.Fd(o.w) }

func newApp(stdin io.Reader, stdout, stderr io.Writer) *cli.App {
	app := &cli.App{
		Name:      "unseen",
		Usage:     "how many tagged fish really passed, when only some were seen",
		UsageText: "unseen COMMAND STUDY.toml [flags]",
		Description: "From sightings of tagged fish at sites along a river, unseen estimates survival in each\n" +
			"reach, detection at each site, and the share of the tagged fish that passed.\n\n" +
			"Start with:  unseen demo",
		Version:                   line.Version(),
		Reader:                    stdin,
		Metadata:                  map[string]any{},
		Writer:                    stdout,
		ErrWriter:                 stderr,
		DisableSliceFlagSeparator: true,
		ExitErrHandler:            func(*cli.Context, error) {}, // exit codes are settled in run
		OnUsageError:              onUsageError,
		Commands: []*cli.Command{
			demoCommand(), newCommand(), checkCommand(), historiesCommand(), fitCommand(), compareCommand(), assessCommand(), planCommand(), simulateCommand(), mergeCommand(), travelCommand(), seasonCommand(), growthCommand(), figuresCommand(), reportCommand(), changesCommand(), openCommand(), explainCommand(), completionCommand(),
		},
	}
	app.Description = text.Reflow(app.Description)
	for _, c := range app.Commands {
		c.Description = text.Reflow(c.Description)
		c.HideHelpCommand = true
		c.OnUsageError = onUsageError
		c.Before = checkTargets
		c.Action = afterChecks(c.Action)
	}
	app.Action = func(c *cli.Context) error {
		if !c.Args().Present() && process.Clicked() {
			return openClicked(c)
		}
		if !c.Args().Present() {
			return cli.ShowAppHelp(c)
		}
		return commandNotFound(app, c.Args().First())
	}
	return app
}

// afterChecks has a command begin when its flags are known to go together.
func afterChecks(action cli.ActionFunc) cli.ActionFunc {
	return func(c *cli.Context) error {
		if err := line.Together(c); err != nil {
			return err
		}
		return action(c)
	}
}

func onUsageError(_ *cli.Context, err error, _ bool) error { return line.Errorf("%w", err) }

func commandNotFound(app *cli.App, name string) error {
	names := make([]string, len(app.Commands))
	for i, c := range app.Commands {
		names[i] = c.Name
	}
	if near := argv.Nearest(name, names); near != "" {
		return line.Errorf("there is no command %q; did you mean %q?", name, near)
	}
	if _, err := os.Stat(name); err == nil || strings.HasSuffix(name, ".toml") {
		return line.Errorf("there is no command %q; to fit a study: unseen fit %s", name, name)
	}
	return line.Errorf("there is no command %q; the commands are %s", name, strings.Join(names, ", "))
}
