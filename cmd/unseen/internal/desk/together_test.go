package desk

import (
	"html"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cmd/unseen/internal/view"
)

// Ten pages that are open at once while the study changes each show it as it was
// before or as it is after, never a mixture, and in the end all the same.
func TestTenPagesAgree(t *testing.T) {
	if testing.Short() {
		t.Skip("not with -short")
	}
	dir := hollin(t)
	path := filepath.Join(dir, "study.toml")
	text := studyText(t, dir)
	d := open(t, dir)
	// Without its second row Alder Ford has another detection, and the title
	// says which of the two texts it is.
	other := strings.Replace(strings.Replace(text, "spring 2025", "the other", 1), `rows = { upper = ["north", "middle"], lower = ["south"] }`+"\n", "", 1)
	require.NotEqual(t, text, other)
	number := func(page string) string {
		i := strings.Index(page, `<section class="part done open" id="part-answer"`)
		require.Positive(t, i, page)
		j := strings.Index(page, "<figure")
		return page[j:strings.Index(page, "</figure>")]
	}
	want := map[bool]string{false: number(get(t, d, "/answer"))}
	require.NoError(t, os.WriteFile(path, []byte(other), 0o644))
	want[true] = number(get(t, d, "/answer"))
	require.NotEqual(t, want[false], want[true], "the two studies do not differ")
	stop := make(chan struct{})
	var wg sync.WaitGroup
	for range 10 {
		wg.Go(func() {
			for {
				select {
				case <-stop:
					return
				default:
				}
				page := ask(d, http.MethodGet, "/answer", nil).Body.String()
				is := strings.Contains(page, "<h1>Hollin Water sea trout smolts, the other</h1>")
				if !assert.Equal(t, want[is], number(page), "the answer is of another study than the title") {
					return
				}
			}
		})
	}
	for i := range 6 {
		time.Sleep(20 * time.Millisecond)
		// As an editor does it that writes whole files.
		require.NoError(t, os.WriteFile(path+".new", []byte([]string{text, other}[i%2]), 0o644))
		require.NoError(t, os.Rename(path+".new", path))
	}
	close(stop)
	wg.Wait()
	for range 3 {
		assert.Equal(t, want[true], number(get(t, d, "/answer")))
	}
}

// A page that is open is told when the study or a table changes.
func TestChangesAreTold(t *testing.T) {
	dir := hollin(t)
	d := open(t, dir)
	was := d.mark()
	assert.Equal(t, was, d.mark())
	fish := filepath.Join(dir, "fish.csv")
	text, err := os.ReadFile(fish)
	require.NoError(t, err)
	lines := strings.SplitAfter(string(text), "\n")
	require.NoError(t, os.WriteFile(fish, []byte(strings.Join(append(lines[:1:1], lines[2:]...), "")), 0o644))
	now := d.mark()
	assert.NotEqual(t, was, now)
	assert.Contains(t, get(t, d, "/answer"), "1,799 tagged fish")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "study.toml"), []byte("title = 3"), 0o644))
	assert.NotEqual(t, now, d.mark())
	assert.Contains(t, get(t, d, "/tables"), "The study cannot be read")
	assert.Contains(t, get(t, d, "/answer"), "nothing to show yet")
}

// What was worked out is kept by the study and its data, not by their times.
func TestAnswersAreKept(t *testing.T) {
	dir := hollin(t)
	d := open(t, dir)
	first, err := d.current().fit(t.Context(), d.ctx, d.current().Data.Specs()[0])
	require.NoError(t, err)
	later := time.Now().Add(time.Hour)
	require.NoError(t, os.Chtimes(filepath.Join(dir, "fish.csv"), later, later))
	again, err := d.current().fit(t.Context(), d.ctx, d.current().Data.Specs()[0])
	require.NoError(t, err)
	assert.Same(t, first, again)
	edited(t, d, "do", "remedy", "kind", "off", "rule", "turned_back")
	other, err := d.current().fit(t.Context(), d.ctx, d.current().Data.Specs()[0])
	require.NoError(t, err)
	assert.NotSame(t, first, other)
}

func TestFaultsAreMarkedAtTheWord(t *testing.T) {
	d := open(t, hollin(t))
	for terms, word := range map[string]string{"reach + lenght": "lenght", "reach ++ cohort": "+", "reach cohort": "cohort", "reach * cohort": "*", `reach + "x`: `"x`} {
		page := get(t, d, "/answer?"+url.Values{"survival": {terms}}.Encode())
		assert.Contains(t, page, "<mark>"+strings.NewReplacer(`"`, "&#34;", "+", "&#43;").Replace(word)+"</mark>", terms)
		assert.Contains(t, page, "cannot be fitted", terms)
	}
}

func TestModelIsKeptAndMadeTheAnswer(t *testing.T) {
	dir := hollin(t)
	d := open(t, dir)
	assert.Contains(t, get(t, d, "/answer?survival=reach&detection=site"), "Keep it")
	page := edited(t, d, "do", "keep-model", "name", "plain", "survival", "reach", "detection", "site")
	assert.Contains(t, page, "Make this the answer")
	assert.Equal(t, "cohorts alike in pattern", d.current().Data.Specs()[0].Name)
	edited(t, d, "do", "first-model", "name", "plain")
	specs := d.current().Data.Specs()
	require.Len(t, specs, 3)
	assert.Equal(t, "plain", specs[0].Name)
	assert.Equal(t, "reach", specs[0].Survival)
	assert.Equal(t, "cohorts alike in pattern", specs[1].Name)
	assert.Equal(t, "reach + cohort", specs[1].Survival)
}

func TestFishInAnySpelling(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	d := open(t, hollin(t))
	for _, tag := range []string{"999041000000908", "3E7.098BCA5D8C", " 3e7098bca5d8c ", "999 041000000908"} {
		page := get(t, d, "/fish?"+url.Values{"tag": {tag}}.Encode())
		assert.Contains(t, page, "<h3>999041000000908</h3>", tag)
		assert.Contains(t, page, "Released at Mill Lade", tag)
		assert.Contains(t, page, "arrays/lower-river.csv.gz", tag)
	}
	page := get(t, d, "/fish?tag=999097290475948")
	assert.Contains(t, page, "no tag of a fish")
	assert.Contains(t, page, "set aside: unknown tag")
	assert.Contains(t, html.UnescapeString(get(t, d, "/fish?tag=999041000000908")), view.SingleFish)
	assert.NotContains(t, html.UnescapeString(get(t, d, "/answer")), view.SingleFish)
	assert.Contains(t, get(t, d, "/fish?tag=0908"), `/fish?tag=999041000000908"`)
}
