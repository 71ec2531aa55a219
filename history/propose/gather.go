package propose

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"example.org/unseen/history/table"
)

func (g *guess) gather(ctx context.Context, paths []string) error {
	files, err := g.files(paths)
	if err != nil {
		return err
	}
	for _, f := range files {
		tables, err := g.takeTables(ctx, f)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			g.unread = append(g.unread, fmt.Sprintf("%s (%v)", f.Name, err))
			g.failed = append(g.failed, Taken{Name: f.Name, File: f.Name, Path: f.Path, Kind: Unused, Reading: g.saidOf(f.Name).Reading, Why: err.Error()})
		}
		g.tables = append(g.tables, tables...)
	}
	if err := g.joinParts(ctx); err != nil {
		return err
	}
	if err := g.borrow(ctx); err != nil {
		return err
	}
	if len(g.tables) == 0 {
		return fmt.Errorf("no table (%s) among %s%s", strings.Join(table.Endings, " "), strings.Join(paths, ", "), g.notRead())
	}
	return nil
}

// takeTables looks at a file, at every sheet of a workbook.
func (g *guess) takeTables(ctx context.Context, f table.File) (out []*sample, err error) {
	if s := g.saidOf(f.Name); s.Reading.Encoding != "" {
		f.Reading.Encoding = s.Reading.Encoding
	}
	looks, err := table.LookAt(ctx, f)
	if err != nil {
		return nil, err
	}
	if len(looks) == 1 && looks[0].EightBit && f.Reading.Encoding == "" {
		if name := eightBitEncoding(looks[0].Raw); name != "" {
			f.Reading.Encoding = name
			if looks, err = table.LookAt(ctx, f); err != nil {
				return nil, err
			}
		}
	}
	for i := range looks {
		if looks[i].Hidden {
			g.unread = append(g.unread, fmt.Sprintf("%s, sheet %s (the workbook hides it; show it, or name it with sheet = %q)", f.Name, looks[i].Sheet, looks[i].Sheet))
			continue
		}
		x, ok := lookAt(&looks[i])
		if !ok {
			x = found{}
			if looks[i].Sheets > 1 {
				x.reading.Sheet = looks[i].Sheet
			}
		}
		x.reading.Encoding = f.Reading.Encoding
		name := f.Name
		if x.reading.Sheet != "" {
			name += ", sheet " + x.reading.Sheet
		}
		said := g.saidOf(name)
		if !said.over(&x.reading) {
			x.reading = shortest(ctx, f, x)
		}
		file := f
		file.Reading = x.reading
		t, err := takeSample(ctx, file)
		if err != nil {
			return out, err
		}
		t.found, t.name = x, name
		if _, ok := g.said[name]; ok {
			t.said = said
		}
		out = append(out, t)
	}
	return out, nil
}

// files are those under the paths that may be tables: all that are named, and in
// folders those of the endings that tables have. The others are noted.
func (g *guess) files(paths []string) (files []table.File, err error) {
	met := map[string]bool{}
	for _, path := range paths {
		info, err := os.Stat(path)
		if err != nil {
			return nil, fmt.Errorf("%q cannot be read: %w", path, err)
		}
		root := path
		if info.IsDir() {
			root += string(filepath.Separator) // has a link to a folder followed
		}
		err = filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			name := nameFrom(g.base, path)
			if err == nil && !d.IsDir() {
				g.found = append(g.found, name)
			}
			switch {
			case err != nil:
				return fmt.Errorf("the folder %q cannot be read: %w", path, err)
			case info.IsDir() && (d.IsDir() || strings.HasPrefix(d.Name(), ".")) || strings.HasSuffix(name, ".toml"):
			case info.IsDir() && table.NoFile(d):
				g.unread = append(g.unread, name+" (it is no file)")
			case !info.IsDir() || table.IsTable(path) || slices.Contains(textEndings, strings.ToLower(filepath.Ext(name))):
				if clean := filepath.Clean(path); !met[clean] {
					met[clean] = true
					files = append(files, table.File{Path: path, Name: name})
				}
			default:
				g.unread = append(g.unread, name+" (its ending is none of a table)")
			}
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return files, nil
}

// nameFrom is the name that a study in the folder base has for a file: from there,
// whole where another drive holds it, or where it was named whole and lies
// elsewhere.
func nameFrom(base, path string) string {
	whole := absolute(path)
	rel, err := filepath.Rel(absolute(base), whole)
	if err != nil || filepath.IsAbs(path) && !filepath.IsLocal(rel) {
		rel = whole
	}
	return filepath.ToSlash(rel)
}

// textEndings are those of files that readers write and that may be tables.
var textEndings = []string{"", ".log", ".psv", ".dat", ".asc", ".tab", ".prn", ".out"}

// notRead names the files that could not be read, each with the reason.
func (g *guess) notRead() string {
	if len(g.unread) == 0 {
		return ""
	}
	return "; not read: " + strings.Join(g.unread, ", ")
}

func absolute(dir string) string {
	if a, err := filepath.Abs(dir); err == nil {
		return a
	}
	return dir
}
