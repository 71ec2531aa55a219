package desk

import (
	"fmt"
	"net/http"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

// BenchmarkModelChange is the time from the request for another model to the
// last byte of its answer: the fit, its intervals, figure and tables. The study
// is the demo, or the folder that UNSEEN_STUDY names.
func BenchmarkModelChange(b *testing.B) {
	dir := os.Getenv("UNSEEN_STUDY")
	if dir == "" {
		dir = b.TempDir()
		require.NoError(b, writeDemo(dir))
	}
	d, err := New(b.Context(), Options{Folder: dir, Address: testAddress, Version: "test"})
	require.NoError(b, err)
	defer d.Close()
	require.Equal(b, http.StatusOK, ask(d, http.MethodGet, "/answer", nil).Code)
	for _, model := range []string{"survival=reach&detection=row", "survival=reach+%2B+cohort&detection=row", "survival=reach+by+cohort&detection=site"} {
		b.Run(model, func(b *testing.B) {
			for b.Loop() {
				clear(d.current().kept.items)
				w := ask(d, http.MethodGet, "/answer?"+model, nil)
				require.Equal(b, http.StatusOK, w.Code)
				require.Contains(b, w.Body.String(), "figure-passage")
			}
		})
	}
}

// BenchmarkSeasonDay is the time of a day of the season that was not looked at
// before.
func BenchmarkSeasonDay(b *testing.B) {
	dir := b.TempDir()
	require.NoError(b, writeDemo(dir))
	d, err := New(b.Context(), Options{Folder: dir, Address: testAddress, Version: "test"})
	require.NoError(b, err)
	defer d.Close()
	for i := 0; b.Loop(); i++ {
		if i%30 == 0 {
			clear(d.current().kept.items)
		}
		require.Equal(b, http.StatusOK, ask(d, http.MethodGet, fmt.Sprint("/season?n=", 10+i%30), nil).Code)
	}
}

// BenchmarkViews is the time of a view whose answer is there already.
func BenchmarkViews(b *testing.B) {
	dir := b.TempDir()
	require.NoError(b, writeDemo(dir))
	d, err := New(b.Context(), Options{Folder: dir, Address: testAddress, Version: "test"})
	require.NoError(b, err)
	defer d.Close()
	for _, path := range []string{"/tables", "/check", "/answer", "/trust", "/season", "/plan", "/fish?tag=999041000000908", "/take"} {
		b.Run(path, func(b *testing.B) {
			for b.Loop() {
				require.Equal(b, http.StatusOK, ask(d, http.MethodGet, path, nil).Code)
			}
		})
	}
}
