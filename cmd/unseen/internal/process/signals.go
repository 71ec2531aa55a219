// Package process is how the program starts, what it asks of the system,
// and ends.
package process

import (
	"context"
	"errors"
	"os"
	"os/signal"
	"syscall"
	"time"

	"example.org/unseen/cmd/unseen/internal/atomicfile"
)

// stopped is the signal that ended a run.
type stopped struct{ signal syscall.Signal }

func (s stopped) Error() string { return s.signal.String() }

// exit is the code by which a shell knows the signal: 130 after Ctrl-C, 143
// after SIGTERM, 129 when the terminal was closed.
func (s stopped) exit() int { return 128 + int(s.signal) }

// patience is how long after the first signal a step may take that nothing can
// stop, such as the decomposition of one large matrix.
const patience = 5 * time.Second

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
	go func() {
		last := stoppedBy(<-signals)
		cancel(last)
		select {
		case s := <-signals:
			last = stoppedBy(s)
		case <-time.After(patience):
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

// ExitCode is that of a run whose context ended.
func ExitCode(ctx context.Context) int {
	var s stopped
	if errors.As(context.Cause(ctx), &s) {
		return s.exit()
	}
	return stopped{syscall.SIGINT}.exit()
}
