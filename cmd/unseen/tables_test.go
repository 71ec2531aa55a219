package main

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"example.org/unseen/cmd/unseen/internal/harmless"
)

// tableCommands are commands that have tables, in many forms.
var tableCommands = []string{
	"fit STUDY", "check STUDY", "histories STUDY", "histories STUDY --counts", "histories STUDY --next-seen",
	"compare STUDY --survival same --survival reach", "assess STUDY", "travel STUDY", "season STUDY --every 7",
	"growth STUDY", "plan STUDY", "simulate STUDY --replicates 2", "report STUDY -o /dev/null",
}

// The workbook of a command, read back, is its CSV files: a sheet a file, numbers
// that are numbers, moments that are dates, texts that are texts and no formula,
// the header frozen.
func TestTheWorkbookIsTheCSV(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	dir := t.TempDir()
	study := smallStudy(t, dir)
	text, err := os.ReadFile(filepath.Join(dir, "fish.csv"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "fish.csv"), []byte(strings.ReplaceAll(string(text), "early", "=early+1")), 0o644))
	kinds := map[string]int{}
	for i, line := range tableCommands {
		out, book := filepath.Join(dir, "csv"+strconv.Itoa(i)), filepath.Join(dir, "book"+strconv.Itoa(i)+".xlsx")
		args := append(strings.Fields(strings.ReplaceAll(line, "STUDY", study)), "--csv", out, "--xlsx", book)
		code, _, stderr := runHere(t.Context(), t, args...)
		require.Equal(t, exitUsable, code, "%s: %s", line, stderr)
		f, err := excelize.OpenFile(book, excelize.Options{RawCellValue: true})
		require.NoError(t, err)
		files, err := filepath.Glob(filepath.Join(out, "*.csv"))
		require.NoError(t, err)
		require.Len(t, f.GetSheetList(), len(files), line)
		require.NotEmpty(t, files)
		for _, file := range files {
			id := strings.TrimSuffix(filepath.Base(file), ".csv")
			sameTable(t, line+": "+id, f, id, file, kinds)
		}
		require.NoError(t, f.Close())
	}
	for _, k := range []string{"number", "text", "moment", "none", "formula made harmless"} {
		assert.Positive(t, kinds[k], "no %s was compared", k)
	}
}

func sameTable(t *testing.T, what string, f *excelize.File, id, file string, kinds map[string]int) {
	t.Helper()
	text, err := os.Open(file)
	require.NoError(t, err)
	defer text.Close()
	want, err := csv.NewReader(text).ReadAll()
	require.NoError(t, err)
	got, err := f.GetRows(id)
	require.NoError(t, err, what)
	require.Len(t, got, len(want), what)
	panes, err := f.GetPanes(id)
	require.NoError(t, err)
	assert.True(t, panes.Freeze && panes.YSplit == 1, "%s: the header is not frozen", what)
	for r, record := range want {
		for c, cell := range record {
			name, err := excelize.CoordinatesToCellName(c+1, r+1)
			require.NoError(t, err)
			at := what + " " + name
			formula, err := f.GetCellFormula(id, name)
			require.NoError(t, err)
			require.Empty(t, formula, at)
			raw, kind := "", excelize.CellTypeUnset
			if c < len(got[r]) {
				raw = got[r][c]
				kind, err = f.GetCellType(id, name)
				require.NoError(t, err)
			}
			number, err := strconv.ParseFloat(cell, 64)
			moment, notMoment := time.Parse(time.RFC3339Nano, cell)
			switch {
			case cell == "":
				kinds["none"]++
				require.Empty(t, raw, at)
			case notMoment == nil && kind != excelize.CellTypeInlineString:
				kinds["moment"]++
				days, err := strconv.ParseFloat(raw, 64)
				require.NoError(t, err, at)
				is, err := excelize.ExcelDateToTime(days, false)
				require.NoError(t, err, at)
				// A day's fraction has 11 decimals in a float64 of this size, that is microseconds.
				require.WithinDuration(t, moment, is, time.Millisecond, at)
				shown, err := f.GetCellValue(id, name, excelize.Options{RawCellValue: false})
				require.NoError(t, err)
				require.Equal(t, moment.Format("2006-01-02 15:04:05Z"), shown, at)
			case err == nil && kind != excelize.CellTypeInlineString:
				kinds["number"]++
				is, err := strconv.ParseFloat(raw, 64)
				require.NoError(t, err, at)
				require.InEpsilon(t, number+1e-300, is+1e-300, 1e-14, at) // spreadsheets keep 15 digits
			default:
				kinds["text"]++
				if strings.HasPrefix(cell, "'=") {
					kinds["formula made harmless"]++
				}
				require.Equal(t, excelize.CellTypeInlineString, kind, at)
				require.Equal(t, harmless.Escape(cell), raw, at)
			}
		}
	}
}

// A text is one whatever it looks like, and a number is one: that a column changes
// its kind with the data must not be.
func TestKindsOfColumnsInAWorkbook(t *testing.T) {
	dir := t.TempDir()
	study := smallStudy(t, dir)
	book := filepath.Join(dir, "h.xlsx")
	code, _, stderr := runHere(t.Context(), t, "histories", study, "--xlsx", book)
	require.Equal(t, exitUsable, code, stderr)
	f, err := excelize.OpenFile(book)
	require.NoError(t, err)
	defer f.Close()
	require.Equal(t, []string{"histories", "passages"}, f.GetSheetList())
	for cell, want := range map[string]excelize.CellType{
		"A2": excelize.CellTypeInlineString, // a tag of digits alone
		"B2": excelize.CellTypeUnset,        // released
		"C2": excelize.CellTypeInlineString, // cohort
		"D2": excelize.CellTypeUnset,        // fork_length_mm
		"F2": excelize.CellTypeUnset,        // Mill Lade
	} {
		kind, err := f.GetCellType("histories", cell)
		require.NoError(t, err)
		assert.Equal(t, want, kind, cell)
	}
	code, _, stderr = runHere(t.Context(), t, "check", study, "--xlsx", filepath.Join(dir, "c.xlsx"))
	require.Equal(t, exitUsable, code, stderr)
	c, err := excelize.OpenFile(filepath.Join(dir, "c.xlsx"))
	require.NoError(t, err)
	defer c.Close()
	sheets := c.GetSheetList()
	assert.Equal(t, "set_aside", sheets[len(sheets)-1], sheets)
	assert.Equal(t, "accounting", sheets[0], sheets)
}

// Histories in either form fit the same when they are read again.
func TestSavedHistoriesAreReadAgain(t *testing.T) {
	dir := t.TempDir()
	study := smallStudy(t, dir)
	_, want, _ := runHere(t.Context(), t, "histories", study, "--next-seen", "--json")
	code, _, stderr := runHere(t.Context(), t, "histories", study, "--csv", filepath.Join(dir, "out"), "--decimal-comma", "--xlsx", filepath.Join(dir, "out", "histories.xlsx"))
	require.Equal(t, exitUsable, code, stderr)
	again := filepath.Join(dir, "out", "histories.toml")
	text, err := os.ReadFile(again)
	require.NoError(t, err)
	saved, err := os.ReadFile(filepath.Join(dir, "out", "histories.csv"))
	require.NoError(t, err)
	assert.True(t, strings.HasPrefix(string(saved), "\xef\xbb\xbffish;released;cohort;"), "%.60s", saved)
	book := filepath.Join(dir, "out", "book.toml")
	require.NoError(t, os.WriteFile(book, []byte(strings.ReplaceAll(string(text), "histories.csv", "histories.xlsx")), 0o644))
	tables := func(s string) string {
		_, after, ok := strings.Cut(s, `"next_seen"`)
		require.True(t, ok, s)
		return after
	}
	for _, file := range []string{again, book} {
		code, got, stderr := runHere(t.Context(), t, "histories", file, "--next-seen", "--json")
		require.Equal(t, exitUsable, code, stderr)
		assert.Equal(t, tables(want), tables(got), file)
	}
}

func TestDecimalCommaWithoutCSV(t *testing.T) {
	code, _, stderr := runHere(t.Context(), t, "fit", smallStudy(t, t.TempDir()), "--decimal-comma")
	assert.Equal(t, exitCall, code)
	assert.Contains(t, stderr, "--csv")
}
