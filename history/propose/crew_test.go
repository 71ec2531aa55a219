package propose_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
	"golang.org/x/text/encoding"

	"example.org/unseen/history"
	"example.org/unseen/history/ingest"
	"example.org/unseen/history/propose"
	"example.org/unseen/history/study"
	"example.org/unseen/history/tagcode"
)

// smolt is a fish of an invented season, and swim a read of it.
type smolt struct {
	tag, second string
	released    time.Time
	length      float64
	weight      float64
}

type swim struct {
	fish, site, antenna int
	tag                 string
	at                  time.Time
}

// crew writes the tables of a season as one crew keeps them.
type crew struct {
	*rand.Rand
	t     testing.TB
	dir   string
	sites []string
	fish  []smolt
	reads []swim // in order of time
	// lost is how many of the reads are of none of the fish, as tests and other
	// people's fish are, or stand in two files.
	twice int
}

// newCrew makes a season: fish let go at one place swim past the sites, where
// each is read by two antennas, or missed.
func newCrew(t testing.TB, seed uint64, sites ...string) *crew {
	c := &crew{Rand: rand.New(rand.NewPCG(seed, 29)), t: t, dir: t.TempDir(), sites: sites}
	start := time.Date(2025, 4, 9, 0, 0, 0, 0, time.UTC)
	for i := range 90 {
		f := smolt{tag: tagOf(1000 + 37*i), released: start.AddDate(0, 0, i/9).Add(20*time.Hour + time.Duration(c.IntN(180))*time.Minute), length: float64(1100+c.IntN(600)) / 10, weight: float64(150+c.IntN(400)) / 10}
		if i%11 == 4 {
			f.second = tagOf(50_000 + i)
		}
		at := f.released
		for k := range sites {
			at = at.Add(time.Duration((14 + 40*c.Float64()) * float64(time.Hour))).Truncate(time.Second)
			if c.Float64() < 0.25 {
				continue
			}
			for a := range 2 {
				for range 1 + c.IntN(2) {
					at = at.Add(time.Duration(3+c.IntN(40)) * time.Second)
					c.reads = append(c.reads, swim{fish: i, site: k, antenna: a, tag: f.tag, at: at})
				}
			}
		}
		c.fish = append(c.fish, f)
	}
	slices.SortStableFunc(c.reads, func(a, b swim) int { return a.at.Compare(b.at) })
	return c
}

// hex is a tag as readers print it, with a sign between country and number.
func (c *crew) hex(tag, sign string) string {
	code, err := tagcode.Parse(tag)
	require.NoError(c.t, err)
	return strings.Replace(code.Hex(), ".", sign, 1)
}

// file writes lines of text in an encoding, nil is UTF-8.
func (c *crew) file(name string, enc encoding.Encoding, end string, lines []string) {
	text := strings.Join(lines, end) + end
	if enc != nil {
		var err error
		text, err = enc.NewEncoder().String(text)
		require.NoError(c.t, err)
	}
	path := filepath.Join(c.dir, filepath.FromSlash(name))
	require.NoError(c.t, os.MkdirAll(filepath.Dir(path), 0o755))
	require.NoError(c.t, os.WriteFile(path, []byte(text), 0o644))
}

// sheet puts rows of cells into a sheet.
func (c *crew) sheet(f *excelize.File, name string, rows [][]any) {
	_, err := f.NewSheet(name)
	require.NoError(c.t, err)
	for i, row := range rows {
		cell, err := excelize.CoordinatesToCellName(1, i+1)
		require.NoError(c.t, err)
		require.NoError(c.t, f.SetSheetRow(name, cell, &row))
	}
}

// save writes a workbook without the sheet that a new one has.
func (c *crew) save(f *excelize.File, name string) {
	require.NoError(c.t, f.DeleteSheet("Sheet1"))
	require.NoError(c.t, f.SaveAs(filepath.Join(c.dir, name)))
}

// at gives the reads of a site, of all for -1.
func (c *crew) at(site int) (out []swim) {
	for _, x := range c.reads {
		if site < 0 || x.site == site {
			out = append(out, x)
		}
	}
	return out
}

// comma writes a number with a decimal comma.
func comma(v float64) string { return strings.Replace(fmt.Sprintf("%.1f", v), ".", ",", 1) }

// truth is what the histories must say of each fish: where it was seen, in
// downstream order, and when first, as the crew's clocks showed it.
func (c *crew) truth(minutes bool) map[string]string {
	out := map[string]string{}
	first := map[[2]int]time.Time{}
	for _, x := range c.reads {
		at := [2]int{x.fish, x.site}
		if t, ok := first[at]; !ok || x.at.Before(t) {
			first[at] = x.at
		}
	}
	for i, f := range c.fish {
		s := ""
		for k, site := range c.sites {
			if t, ok := first[[2]int{i, k}]; ok {
				s += " " + site + " " + shownTime(t, minutes)
			}
		}
		out[f.tag] = s
	}
	return out
}

func shownTime(t time.Time, minutes bool) string {
	if minutes {
		t = t.Truncate(time.Minute)
	}
	return t.UTC().Format("01-02T15:04:05")
}

// says is what histories say of each fish in the words of truth.
func says(h *history.Histories) map[string]string {
	out := map[string]string{}
	rows := h.River.Rows()
	for i, tag := range h.Tag {
		s, row := "", 0
		for _, site := range h.River.Sites[1:] {
			if ms := h.First[i*rows+row]; ms != history.NoTime {
				s += " " + site.Name + " " + time.UnixMilli(ms).UTC().Format("01-02T15:04:05")
			}
			row += max(1, len(site.Rows))
		}
		out[tag] = s
	}
	return out
}

// read proposes a study of the crew's folder and reads it, without an edit.
func (c *crew) read() (*propose.Proposal, *ingest.Result, error) {
	p, err := propose.Study(context.Background(), []string{c.dir}, c.dir)
	if err != nil {
		return nil, nil, err
	}
	st, err := study.Parse(filepath.Join(c.dir, "study.toml"), []byte(p.Study))
	if err != nil {
		return p, nil, err
	}
	res, err := ingest.Run(context.Background(), st, ingest.Options{})
	return p, res, err
}
