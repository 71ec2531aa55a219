//go:build ignore

// Pack puts a program, its licences and a quick start into an archive, the same
// input as the same bytes: go run .ci/pack.go -name NAME -goos OS -goarch ARCH
// -program FILE -more DIR -time UNIX -out DIR
package main

import (
	"archive/tar"
	"archive/zip"
	"compress/gzip"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"time"
)

// file is one of an archive.
type file struct {
	name string
	data []byte
	run  bool
}

func main() {
	name := flag.String("name", "", "of the archive and the folder in it")
	goos, goarch := flag.String("goos", "", ""), flag.String("goarch", "", "")
	program := flag.String("program", "", "")
	more := flag.String("more", "", "folder of unseen.1 and completions")
	unix := flag.Int64("time", 0, "of all files, in seconds since 1970")
	out := flag.String("out", "", "folder")
	flag.Parse()
	if err := pack(*name, *goos, *goarch, *program, *more, time.Unix(*unix, 0).UTC(), *out); err != nil {
		fmt.Fprintln(os.Stderr, "pack:", err)
		os.Exit(1)
	}
}

func pack(name, goos, goarch, program, more string, at time.Time, out string) error {
	files, err := licences(goos, goarch)
	if err != nil {
		return err
	}
	add := func(to, from string, run bool) {
		data, e := os.ReadFile(from)
		err = errors.Join(err, e)
		files = append(files, file{to, data, run})
	}
	ends := func(to, from string, run bool) {
		add(to, from, run)
		if goos == "windows" {
			last := &files[len(files)-1]
			last.data = []byte(strings.ReplaceAll(string(last.data), "\n", "\r\n"))
		}
	}
	ends("LICENSE.txt", "LICENSE", false)
	ends("QUICKSTART.txt", ".ci/quickstart.txt", false)
	add("unseen.1", filepath.Join(more, "unseen.1"), false)
	for _, shell := range []string{"bash", "zsh", "fish", "powershell"} {
		add("completions/"+shell, filepath.Join(more, "completions", shell), false)
	}
	switch goos {
	case "windows":
		add("unseen.exe", program, true)
		files = append(files, file{"start.cmd", []byte("@if not exist \"%~dp0study\" mkdir \"%~dp0study\"\r\n@\"%~dp0unseen.exe\" open \"%~dp0study\"\r\n@pause\r\n"), true})
	default:
		add("unseen", program, true)
		start := map[string]string{"darwin": "start.command"}[goos]
		if start == "" {
			start = "start.sh"
		}
		files = append(files, file{start, []byte("#!/bin/sh\ncd \"$(dirname \"$0\")\" && mkdir -p study && exec ./unseen open study\n"), true})
	}
	if err != nil {
		return err
	}
	slices.SortFunc(files, func(a, b file) int { return strings.Compare(a.name, b.name) })
	for i := range files {
		files[i].name = name + "/" + files[i].name
	}
	write, ending := writeTar, ".tar.gz"
	if goos == "windows" {
		write, ending = writeZip, ".zip"
	}
	f, err := os.Create(filepath.Join(out, name+ending))
	if err != nil {
		return err
	}
	return errors.Join(write(f, files, at), f.Close())
}

// isLicence are the names under which licences and notices stand.
var isLicence = regexp.MustCompile(`(?i)^(licen[cs]e|copying|notice|copyright|patents)([.-].*)?$`)

// licences are the texts of every module that is linked into the program, and of Go.
func licences(goos, goarch string) (files []file, err error) {
	list := exec.Command("go", "list", "-deps", "-f", "{{with .Module}}{{if not .Main}}{{.Path}}\t{{.Version}}\t{{.Dir}}{{end}}{{end}}\t{{.Dir}}", "./cmd/unseen")
	list.Env = append(os.Environ(), "GOOS="+goos, "GOARCH="+goarch, "CGO_ENABLED=0")
	list.Stderr = os.Stderr
	said, err := list.Output()
	if err != nil {
		return nil, err
	}
	goroot, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		return nil, err
	}
	folders := map[string]map[string]bool{"go " + runtime.Version(): {strings.TrimSpace(string(goroot)): true}}
	roots := map[string]string{}
	for _, line := range strings.Split(string(said), "\n") {
		parts := strings.Split(line, "\t")
		if len(parts) != 4 {
			continue // of Go itself, or ours
		}
		module := parts[0] + " " + parts[1]
		if folders[module] == nil {
			folders[module] = map[string]bool{}
		}
		roots[module] = parts[2]
		// A package may have a licence of its own, as fonts do.
		for dir := parts[3]; strings.HasPrefix(dir, parts[2]); dir = filepath.Dir(dir) {
			folders[module][dir] = true
		}
	}
	for module, dirs := range folders {
		found := false
		for dir := range dirs {
			entries, err := os.ReadDir(dir)
			if err != nil {
				return nil, err
			}
			for _, e := range entries {
				if e.IsDir() || !isLicence.MatchString(e.Name()) || strings.HasSuffix(e.Name(), ".go") {
					continue
				}
				data, err := os.ReadFile(filepath.Join(dir, e.Name()))
				if err != nil {
					return nil, err
				}
				inside, _ := filepath.Rel(roots[module], dir)
				if roots[module] == "" {
					inside = "."
				}
				files = append(files, file{name: path.Join("licences", strings.ReplaceAll(module, "/", "_"), filepath.ToSlash(inside), e.Name()), data: data})
				found = true
			}
		}
		if !found {
			return nil, fmt.Errorf("no licence of %s was found", module)
		}
	}
	return files, nil
}

func writeTar(w io.Writer, files []file, at time.Time) error {
	z, err := gzip.NewWriterLevel(w, gzip.BestCompression)
	if err != nil {
		return err
	}
	t := tar.NewWriter(z)
	for _, f := range files {
		mode := int64(0o644)
		if f.run {
			mode = 0o755
		}
		err := t.WriteHeader(&tar.Header{Typeflag: tar.TypeReg, Name: f.name, Size: int64(len(f.data)), Mode: mode, ModTime: at, Format: tar.FormatUSTAR})
		if err != nil {
			return err
		}
		if _, err := t.Write(f.data); err != nil {
			return err
		}
	}
	return errors.Join(t.Close(), z.Close())
}

func writeZip(w io.Writer, files []file, at time.Time) error {
	z := zip.NewWriter(w)
	for _, f := range files {
		h := &zip.FileHeader{Name: f.name, Method: zip.Deflate, Modified: at}
		h.SetMode(0o644)
		if f.run {
			h.SetMode(0o755)
		}
		part, err := z.CreateHeader(h)
		if err != nil {
			return err
		}
		if _, err := part.Write(f.data); err != nil {
			return err
		}
	}
	return z.Close()
}
