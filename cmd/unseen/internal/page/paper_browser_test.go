//go:build browser

package page

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const (
	// mostSheets is how many sheets of A4 the report of a study of 20 cohorts and
	// 12 sites may take.
	mostSheets = 25
	// What stands on a sheet reaches down so far at least, as a share of what lies
	// between the margins: less is a part alone on an otherwise empty sheet. The
	// last sheet ends where the report does; a line or two there are alone too.
	leastFilled, leastOnLast = 1.0 / 3, 1.0 / 10
)

// TestPrinted prints each report on A4 and looks at every sheet: its number, how far
// down it is filled, and that no heading stands at its foot, parted from what it is
// the heading of, or is cut in two.
func TestPrinted(t *testing.T) {
	b := startBrowser(t)
	shots := os.Getenv("UNSEEN_SHOTS") // a folder to keep the papers in
	for name, c := range studies(t) {
		dir := t.TempDir()
		page, paper := filepath.Join(dir, "report.html"), filepath.Join(dir, "report.pdf")
		require.NoError(t, os.WriteFile(page, []byte(written(t, c)), 0o644))
		require.NoError(t, os.WriteFile(paper, b.print(page), 0o644))
		if shots != "" {
			require.NoError(t, os.Rename(paper, filepath.Join(shots, strings.ReplaceAll(name, " ", "-")+".pdf")))
			paper = filepath.Join(shots, strings.ReplaceAll(name, " ", "-")+".pdf")
		}
		var headings []string
		b.eval(`[...document.querySelectorAll("h2, h3, .title")].map(h => h.textContent.replace(/\s+/g, " ").trim())`, &headings)
		require.NotEmpty(t, headings, name)

		texts, filled := sheetTexts(t, paper), sheetsFilled(t, paper)
		require.Len(t, filled, len(texts), name)
		t.Logf("%s: %d sheets", name, len(texts))
		if name == "large" {
			assert.LessOrEqual(t, len(texts), mostSheets, "%s: sheets of A4", name)
		}
		for i, text := range texts {
			about := fmt.Sprintf("%s, sheet %d of %d", name, i+1, len(texts))
			least := leastFilled
			if i == len(texts)-1 {
				least = leastOnLast
			}
			assert.GreaterOrEqual(t, filled[i], least, "%s is empty but for what stands on top:\n%s", about, strings.Join(text, "\n"))
			require.Greater(t, len(text), 1, "%s: no text", about)
			assert.Equal(t, fmt.Sprintf("Page %d of %d", i+1, len(texts)), text[len(text)-1], about)
			first, last := text[0], text[len(text)-2]
			for _, h := range headings {
				assert.False(t, h == last || len(last) > 20 && strings.HasPrefix(h, last), "%s ends with a heading: %s", about, last)
				assert.False(t, h != first && len(first) > 10 && strings.HasSuffix(h, first), "%s begins within a heading: %s", about, first)
			}
		}
	}
}

// print gives the page on A4 as a PDF.
func (b *browser) print(path string) []byte {
	b.t.Helper()
	b.look("print", "light", 768, 1024)
	b.open(path)
	var pdf struct {
		Data []byte `json:"data"`
	}
	b.call("Page.printToPDF", map[string]any{"printBackground": true, "paperWidth": 8.27, "paperHeight": 11.69, "preferCSSPageSize": true}, &pdf)
	return pdf.Data
}

// poppler runs a program of Debian's package poppler-utils.
func poppler(t *testing.T, program string, args ...string) []byte {
	t.Helper()
	path, err := exec.LookPath(program)
	require.NoError(t, err, "the tests of printed reports need Debian's package poppler-utils")
	out, err := exec.Command(path, args...).Output()
	require.NoError(t, err, program)
	return out
}

// sheetTexts are the lines of text of each sheet, from the top, without space between.
func sheetTexts(t *testing.T, paper string) [][]string {
	t.Helper()
	var out [][]string
	for sheet := range strings.SplitSeq(strings.TrimSuffix(string(poppler(t, "pdftotext", "-layout", paper, "-")), "\f"), "\f") {
		var lines []string
		for l := range strings.Lines(sheet) {
			if l = strings.Join(strings.Fields(l), " "); l != "" {
				lines = append(lines, l)
			}
		}
		out = append(out, lines)
	}
	return out
}

// sheetsFilled says of each sheet how far down between its margins there is
// anything, from 0 to 1.
func sheetsFilled(t *testing.T, paper string) []float64 {
	t.Helper()
	// Sheets in grey, one after the other: "P5\nWIDTH HEIGHT\n255\n" and a byte a dot.
	rest := poppler(t, "pdftoppm", "-gray", "-r", "36", paper)
	var out []float64
	for len(rest) > 0 {
		var width, height, most int
		_, err := fmt.Sscanf(string(rest[:min(len(rest), 40)]), "P5\n%d %d\n%d\n", &width, &height, &most)
		require.NoError(t, err)
		require.Equal(t, 255, most)
		head := len(fmt.Sprintf("P5\n%d %d\n%d\n", width, height, most))
		dots := rest[head : head+width*height]
		rest = rest[head+width*height:]
		top, bottom := height*15/297, height*(297-17)/297 // the margins of report.css, in mm
		lowest := top
		for y := top; y < bottom; y++ {
			if slices.ContainsFunc(dots[y*width:(y+1)*width], func(dot byte) bool { return dot < 200 }) {
				lowest = y + 1
			}
		}
		out = append(out, float64(lowest-top)/float64(bottom-top))
	}
	return out
}
