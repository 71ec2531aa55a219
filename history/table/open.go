package table

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"
)

// openFile opens a file, not a folder, to be read until ctx ends; size is its
// length, -1 of what has none, as a pipe.
func openFile(ctx context.Context, path string) (f *os.File, size int64, err error) {
	if f, err = openUntil(ctx, path); err != nil {
		return nil, 0, err
	}
	info, err := f.Stat()
	if err == nil && info.IsDir() {
		err = fmt.Errorf("%s is a folder; name a file", path)
	}
	if err != nil {
		return nil, 0, errors.Join(err, f.Close())
	}
	if size = info.Size(); !info.Mode().IsRegular() {
		size = -1
	}
	return f, size, nil
}

// over is a moment that is.
var over = time.Unix(1, 0)

// openUntil opens a file. A pipe that nobody writes to keeps neither the opening
// nor the reading from ending with ctx.
func openUntil(ctx context.Context, path string) (*os.File, error) {
	if info, err := os.Stat(path); err != nil || info.Mode().IsRegular() || info.IsDir() {
		return os.Open(path)
	}
	var f *os.File
	err := apart(ctx, func() (err error) {
		f, err = os.Open(path)
		return err
	})
	if err != nil {
		return nil, err
	}
	context.AfterFunc(ctx, func() { f.SetReadDeadline(over) })
	return f, nil
}

// until is a reader until a context ends; then reading fails with its error.
type until struct {
	ctx context.Context
	r   io.Reader
}

func (u until) Read(p []byte) (int, error) {
	if err := u.ctx.Err(); err != nil {
		return 0, err
	}
	return u.r.Read(p)
}

// apart does what cannot be stopped where ctx ending can be waited for besides.
// What f sets is looked at only where it ended.
func apart(ctx context.Context, f func() error) error {
	done := make(chan error, 1)
	go func() { done <- f() }()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case err := <-done:
		return err
	}
}
