package read

import (
	"context"
	"io"
	"os"
	"time"
)

// unblock is a moment that is over.
var unblock = time.Unix(1, 0)

// OpenFile opens a file to be read until ctx ends. A pipe that nobody writes to
// keeps neither the opening nor the reading from ending then.
func OpenFile(ctx context.Context, path string) (*os.File, error) {
	if info, err := os.Stat(path); err != nil || info.Mode().IsRegular() || info.IsDir() {
		return os.Open(path)
	}
	type opened struct {
		file *os.File
		err  error
	}
	done := make(chan opened, 1)
	go func() {
		f, err := os.Open(path)
		done <- opened{f, err}
	}()
	select {
	case <-ctx.Done():
		return nil, ctx.Err()
	case o := <-done:
		if o.err == nil {
			context.AfterFunc(ctx, func() { o.file.SetReadDeadline(unblock) })
		}
		return o.file, o.err
	}
}

// Until is r until ctx ends; then reading fails with the context's error.
func Until(ctx context.Context, r io.Reader) io.Reader { return untilReader{ctx, r} }

type untilReader struct {
	ctx context.Context
	r   io.Reader
}

func (u untilReader) Read(p []byte) (int, error) {
	if err := u.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := u.r.Read(p)
	if err != nil && u.ctx.Err() != nil {
		err = u.ctx.Err()
	}
	return n, err
}

// OpenContext is [Open] of a table that is read until ctx ends; [Table.Err] is
// then the context's error.
func OpenContext(ctx context.Context, path string) (*Table, error) {
	f, err := OpenFile(ctx, path)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	return opened(ctx, path, f, err)
}

// apart does what cannot be stopped where ctx ending can be waited for besides.
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
