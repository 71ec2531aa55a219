// Package process is how the program starts, what it asks of the system,
// and ends.
package process

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"sync/atomic"
	"syscall"
	"time"

	"golang.org/x/term"

	"example.org/unseen/cmd/unseen/internal/atomicfile"
)

// stopped is the signal that ended a run.
type stopped struct{ signal syscall.Signal }

func (s stopped) Error() string { return s.signal.String() }

// exit is the code by which a shell knows the signal: 130 after Ctrl-C, 143
// after SIGTERM, 129 when the terminal was closed.
func (s stopped) exit() int { return 128 + int(s.signal) }

// patience is how long after the first signal a step may take that nothing stops,
// such as the decomposition of one large matrix or the packing of a workbook.
const patience = 500 * time.Millisecond

// patienceToSave is how long it may take where what is done is to be kept.
const patienceToSave = 10 * time.Second

var saves atomic.Bool

// Saves says that what is done is kept on a signal, so that there is more time
// until the process ends.
func Saves() { saves.Store(true) }

// Interrupted is what a run that a signal ends says.
const Interrupted = "unseen: interrupted"

// UntilSignal ends with the first of the signals that ask a program to end: what
// is running stops, keeps what --save is to keep, and leaves no temporary file.
// The second, or patience at its end, ends the process at once.
func UntilSignal(parent context.Context) context.Context {
	ctx, cancel := context.WithCancelCause(parent)
	signals := make(chan os.Signal, 2)
	for _, s := range []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP} {
		if !signal.Ignored(s) { // as SIGHUP under nohup
			signal.Notify(signals, s)
		}
	}
	// Without this an answer that nobody reads any more ends the process where it
	// stands, with its temporary files.
	signal.Notify(make(chan os.Signal, 1), syscall.SIGPIPE)
	go func() {
		last := stoppedBy(<-signals)
		cancel(last)
		wait := patience
		if saves.Load() {
			wait = patienceToSave
		}
		select {
		case s := <-signals:
			last = stoppedBy(s)
		case <-time.After(wait):
			if term.IsTerminal(int(os.Stderr.Fd())) {
				fmt.Fprint(os.Stderr, "\r\x1b[K") // over what is shown of the progress
			}
			fmt.Fprintln(os.Stderr, Interrupted)
		}
		atomicfile.Abandon()
		os.Exit(last.exit())
	}()
	return ctx
}

func stoppedBy(s os.Signal) stopped {
	if s, ok := s.(syscall.Signal); ok {
		return stopped{s}
	}
	return stopped{syscall.SIGINT}
}

// Unread is the code after SIGPIPE, which says nothing.
var Unread = stopped{syscall.SIGPIPE}.exit()

// ExitCode is that of a run whose context ended.
func ExitCode(ctx context.Context) int {
	var s stopped
	if errors.As(context.Cause(ctx), &s) {
		return s.exit()
	}
	return stopped{syscall.SIGINT}.exit()
}
