package main

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"example.org/unseen/cmd/unseen/internal/process"
)

// asUnseen, where set, has the test's own binary be the program.
const asUnseen = "UNSEEN_TEST_AS_UNSEEN"

// whenReady, where set, is a file that the program makes as soon as it takes
// signals.
const whenReady = "UNSEEN_TEST_WHEN_READY"

// asProgram is main, and tells when it takes signals.
func asProgram() {
	ctx := process.UntilSignal(context.Background())
	if file := os.Getenv(whenReady); file != "" {
		if err := os.WriteFile(file, nil, 0o600); err != nil {
			panic(err)
		}
	}
	os.Exit(run(ctx, os.Args, os.Stdin, os.Stdout, os.Stderr))
}

// waitFor waits until the file is there.
func waitFor(t *testing.T, file string) {
	t.Helper()
	require.Eventually(t, func() bool {
		_, err := os.Stat(file)
		return err == nil
	}, 30*time.Second, 5*time.Millisecond, file)
}

// started is a run of the program in a process of its own.
type started struct {
	*exec.Cmd
	temp           string // its folder of temporary files
	ready          string
	stdout, stderr bytes.Buffer
	done           chan error
}

func start(t *testing.T, env []string, args ...string) *started {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	s := &started{Cmd: exec.Command(self, args...), temp: t.TempDir(), ready: filepath.Join(t.TempDir(), "ready"), done: make(chan error, 1)}
	s.Env = append(append(os.Environ(), asUnseen+"=1", whenReady+"="+s.ready, "TMPDIR="+s.temp), env...)
	s.Stdout, s.Stderr = &s.stdout, &s.stderr
	require.NoError(t, s.Start())
	go func() { s.done <- s.Wait() }()
	t.Cleanup(func() { s.Process.Kill() })
	return s
}

// end waits for the end of the run, so long at most, and tells its exit code.
func (s *started) end(t *testing.T, within time.Duration) int {
	t.Helper()
	select {
	case <-s.done:
	case <-time.After(within):
		s.Process.Kill()
		t.Fatalf("still running after %v: %v", within, s.Args[1:])
	}
	return s.ProcessState.ExitCode()
}

// work waits until the process takes signals and has worked so long that it is
// in its phase.
func (s *started) work(t *testing.T, d time.Duration) {
	t.Helper()
	waitFor(t, s.ready)
	select {
	case <-s.done:
		t.Fatalf("ended before it could be interrupted: %v\n%s", s.Args[1:], s.stderr.String())
	case <-time.After(d):
	}
}
