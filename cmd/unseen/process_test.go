package main

import (
	"bytes"
	"os"
	"os/exec"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// asUnseen, where set, has the test's own binary be the program.
const asUnseen = "UNSEEN_TEST_AS_UNSEEN"

// started is a run of the program in a process of its own.
type started struct {
	*exec.Cmd
	temp           string // its folder of temporary files
	stdout, stderr bytes.Buffer
	done           chan error
}

func start(t *testing.T, env []string, args ...string) *started {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	s := &started{Cmd: exec.Command(self, args...), temp: t.TempDir(), done: make(chan error, 1)}
	s.Env = append(append(os.Environ(), asUnseen+"=1", "TMPDIR="+s.temp), env...)
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

// work waits until the process has worked so long that it is in its phase.
func (s *started) work(t *testing.T, d time.Duration) {
	t.Helper()
	select {
	case <-s.done:
		t.Fatalf("ended before it could be interrupted: %v\n%s", s.Args[1:], s.stderr.String())
	case <-time.After(d):
	}
}
