//go:build unix

package atomicfile

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestModes(t *testing.T) {
	was := syscall.Umask(0o027)
	defer syscall.Umask(was)
	dir := t.TempDir()
	mode := func(name string) os.FileMode {
		info, err := os.Stat(filepath.Join(dir, name))
		require.NoError(t, err)
		return info.Mode().Perm()
	}
	path := filepath.Join(dir, "a.csv")
	require.NoError(t, Write(path, Rule{}, text("new")))
	assert.Equal(t, os.FileMode(0o640), mode("a.csv"), "as the umask leaves it")
	require.NoError(t, os.Chmod(path, 0o600))
	require.NoError(t, Write(path, Rule{}, text("newer")))
	assert.Equal(t, os.FileMode(0o600), mode("a.csv"), "an existing mode is kept")
	require.NoError(t, Write(filepath.Join(dir, "deep", "b.csv"), Rule{}, text("new")))
	assert.Equal(t, os.FileMode(0o750), mode("deep"))
}

// A device, a pipe and a standard stream are written to; a link's file is
// replaced, not the link.
func TestWhatIsNoFileIsWrittenThrough(t *testing.T) {
	dir := t.TempDir()
	pipe := filepath.Join(dir, "pipe")
	require.NoError(t, syscall.Mkfifo(pipe, 0o600))
	got := make(chan string)
	go func() {
		b, _ := os.ReadFile(pipe)
		got <- string(b)
	}()
	require.NoError(t, Write(pipe, Rule{}, text("through")))
	assert.Equal(t, "through", <-got)
	info, err := os.Stat(pipe)
	require.NoError(t, err)
	assert.NotZero(t, info.Mode()&os.ModeNamedPipe, "it is still a pipe")

	null := filepath.Join(dir, "null")
	require.NoError(t, os.Symlink(os.DevNull, null))
	require.NoError(t, Write(null, Rule{}, text("lost")))
	info, err = os.Stat(os.DevNull)
	require.NoError(t, err)
	assert.NotZero(t, info.Mode()&os.ModeDevice)
	assert.Equal(t, []string{"null", "pipe"}, names(t, dir))

	stdout, err := os.Create(filepath.Join(dir, "stdout.txt"))
	require.NoError(t, err)
	defer stdout.Close()
	was := os.Stdout
	os.Stdout = stdout
	defer func() { os.Stdout = was }()
	link := filepath.Join(dir, "out")
	require.NoError(t, os.Symlink("stdout.txt", link))
	stdout.WriteString("before\n")
	require.NoError(t, Write(link, Rule{}, text("after\n")))
	assert.Equal(t, "before\nafter\n", content(t, link))

	require.NoError(t, os.Mkdir(filepath.Join(dir, "far"), 0o755))
	require.NoError(t, Write(filepath.Join(dir, "far", "a"), Rule{}, text("old")))
	a := filepath.Join(dir, "a")
	require.NoError(t, os.Symlink("far/a", a))
	require.NoError(t, Write(a, Rule{}, text("new")))
	assert.Equal(t, "new", content(t, filepath.Join(dir, "far", "a")))
	l, err := os.Lstat(a)
	require.NoError(t, err)
	assert.NotZero(t, l.Mode()&os.ModeSymlink)
	require.NoError(t, os.Remove(filepath.Join(dir, "far", "a")))
	require.ErrorContains(t, Write(a, Rule{}, text("new")), "a link to a file that is not there")
}
