//go:build release

package main

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"debug/elf"
	"debug/macho"
	"debug/pe"
	"encoding/hex"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// release builds archives from a clone at a place of its own.
func release(t *testing.T, revision string, env ...string) map[string][]byte {
	t.Helper()
	clone, out := filepath.Join(t.TempDir(), "clone"), t.TempDir()
	said, err := exec.Command("git", "clone", "-q", "../..", clone).CombinedOutput()
	require.NoError(t, err, string(said))
	said, err = exec.Command("git", "-C", clone, "checkout", "-q", "--detach", revision).CombinedOutput()
	require.NoError(t, err, string(said))
	cmd := exec.Command(".ci/release", out)
	cmd.Dir, cmd.Env = clone, append(os.Environ(), env...)
	said, err = cmd.CombinedOutput()
	require.NoError(t, err, string(said))
	files := map[string][]byte{}
	entries, err := os.ReadDir(out)
	require.NoError(t, err)
	for _, e := range entries {
		files[e.Name()], err = os.ReadFile(filepath.Join(out, e.Name()))
		require.NoError(t, err)
	}
	return files
}

// unpacked are the files of an archive without the folder they are in.
func unpacked(t *testing.T, name string, data []byte) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	add := func(path string, r io.Reader) {
		inside, rest, ok := strings.Cut(path, "/")
		require.True(t, ok && strings.HasPrefix(name, inside+"."), path)
		b, err := io.ReadAll(r)
		require.NoError(t, err)
		out[rest] = b
	}
	if strings.HasSuffix(name, ".zip") {
		z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
		require.NoError(t, err)
		for _, f := range z.File {
			r, err := f.Open()
			require.NoError(t, err)
			add(f.Name, r)
			mayRun(t, f.Name, f.Mode())
		}
		return out
	}
	z, err := gzip.NewReader(bytes.NewReader(data))
	require.NoError(t, err)
	for r := tar.NewReader(z); ; {
		h, err := r.Next()
		if err == io.EOF {
			return out
		}
		require.NoError(t, err)
		add(h.Name, r)
		mayRun(t, h.Name, h.FileInfo().Mode())
	}
}

// mayRun holds the program and what starts it, and nothing else, to be programs:
// without that bit a Mac opens them in an editor when they are double clicked.
func mayRun(t *testing.T, name string, mode os.FileMode) {
	base := path.Base(name)
	is := strings.HasPrefix(base, "start.") || base == "unseen" || base == "unseen.exe"
	assert.Equal(t, is && !strings.Contains(name, "/licences/"), mode&0o111 != 0, name)
}

// The archives: all five, each with a program for its machine, the licences and a
// quick start; the sums are right; built again from nothing, at another place, the
// bytes are the same; and the one for this machine runs alone.
func TestRelease(t *testing.T) {
	said, err := exec.Command("git", "rev-parse", "HEAD").Output()
	require.NoError(t, err)
	revision := strings.TrimSpace(string(said))
	files := release(t, revision)
	sums := string(files["SHA256SUMS"])
	delete(files, "SHA256SUMS")
	require.Len(t, files, 5)
	var linux string
	for name, data := range files {
		sum := sha256.Sum256(data)
		assert.Contains(t, sums, hex.EncodeToString(sum[:])+"  "+name+"\n")
		in := unpacked(t, name, data)
		assert.Contains(t, string(in["QUICKSTART.txt"]), "unseen demo")
		assert.Contains(t, string(in["LICENSE.txt"]), "Redistribution")
		assert.Contains(t, string(in["unseen.1"]), "unseen")
		licences := 0
		for path := range in {
			if strings.HasPrefix(path, "licences/") {
				licences++
			}
		}
		assert.Greater(t, licences, 20, name)
		switch {
		case strings.Contains(name, "windows-amd64"):
			f, err := pe.NewFile(bytes.NewReader(in["unseen.exe"]))
			require.NoError(t, err)
			assert.EqualValues(t, pe.IMAGE_FILE_MACHINE_AMD64, f.Machine)
			assert.Contains(t, string(in["QUICKSTART.txt"]), "\r\n")
			assert.NotEmpty(t, in["start.cmd"])
		case strings.Contains(name, "darwin"):
			f, err := macho.NewFile(bytes.NewReader(in["unseen"]))
			require.NoError(t, err)
			assert.Equal(t, map[bool]macho.Cpu{true: macho.CpuArm64, false: macho.CpuAmd64}[strings.Contains(name, "arm64")], f.Cpu)
			assert.NotEmpty(t, in["start.command"])
		default:
			f, err := elf.NewFile(bytes.NewReader(in["unseen"]))
			require.NoError(t, err)
			assert.Equal(t, map[bool]elf.Machine{true: elf.EM_AARCH64, false: elf.EM_X86_64}[strings.Contains(name, "arm64")], f.Machine)
			assert.Nil(t, f.Section(".symtab"), "not stripped")
			assert.NotEmpty(t, in["start.sh"])
			if strings.Contains(name, "linux-amd64") {
				linux = name
			}
		}
	}
	require.NotEmpty(t, linux)
	again := release(t, revision, "TARGETS=linux/amd64", "AGAIN=-a")
	require.NotEmpty(t, again[linux])
	assert.True(t, bytes.Equal(files[linux], again[linux]), "other bytes the second time")
	alone(t, files[linux], linux)
}

// alone runs the archive for this machine in an empty folder, with nothing in its
// environment.
func alone(t *testing.T, data []byte, name string) {
	dir := t.TempDir()
	for path, b := range unpacked(t, name, data) {
		path = filepath.Join(dir, path)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, b, 0o755))
	}
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	command := func(args ...string) *exec.Cmd {
		cmd := exec.CommandContext(ctx, "./unseen", args...)
		cmd.Dir, cmd.Env = dir, []string{"HOME=" + dir}
		return cmd
	}
	for _, c := range [][2]string{{"--version", "unseen version"}, {"demo hollin", "passed"}, {"report hollin -o report.html", ""}} {
		said, err := command(strings.Fields(c[0])...).CombinedOutput()
		require.NoError(t, err, string(said))
		assert.Contains(t, string(said), c[1])
	}
	assert.FileExists(t, filepath.Join(dir, "report.html"))
	open := command("open", "--no-browser", "hollin")
	out, err := open.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, open.Start())
	var said []byte
	var address string
	for address == "" {
		part := make([]byte, 1024)
		n, err := out.Read(part)
		require.NoError(t, err, string(said))
		said = append(said, part[:n]...)
		address = regexp.MustCompile(`http://\S+\n`).FindString(string(said))
	}
	answer, err := http.Get(strings.TrimSpace(address))
	require.NoError(t, err)
	answer.Body.Close()
	assert.Equal(t, http.StatusOK, answer.StatusCode)
	require.NoError(t, open.Process.Signal(os.Interrupt))
	open.Wait()
}
