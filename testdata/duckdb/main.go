// Duckdb measures unseen beside a general engine: the same made-up season, from
// its CSV files to how many fish have each detection history, by `unseen
// histories --counts` and by a query to DuckDB, in turn, each in a process of
// its own. It is a module of its own, so that the project depends on neither.
//
//	go build -o /tmp/duck . && /tmp/duck compare UNSEEN DIR
package main

import (
	"bytes"
	"database/sql"
	"encoding/json"
	"flag"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"

	_ "github.com/duckdb/duckdb-go/v2"

	_ "embed"
)

//go:embed query.sql
var query string

func main() {
	fish := flag.Int("fish", 500_000, "fish of the season")
	records := flag.Int("records", 10_000_000, "records of the season")
	rounds := flag.Int("rounds", 7, "runs of each")
	flag.Parse()
	var err error
	switch a := flag.Args(); {
	case len(a) == 2 && a[0] == "query":
		err = ask(a[1])
	case len(a) == 3 && a[0] == "compare":
		err = compare(a[1], a[2], *fish, *records, *rounds)
	default:
		err = fmt.Errorf("duckdb [-fish N] [-records N] [-rounds N] compare UNSEEN DIR, or query DIR")
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// ask prints what DuckDB answers about the season in dir.
func ask(dir string) error {
	db, err := sql.Open("duckdb", "")
	if err != nil {
		return err
	}
	db.SetMaxOpenConns(1)
	statements := strings.Split(strings.TrimSpace(strings.ReplaceAll(query, "${DIR}", dir)), ";\n")
	last := len(statements) - 1
	for _, s := range statements[:last] {
		if _, err := db.Exec(s); err != nil {
			return err
		}
	}
	rows, err := db.Query(statements[last])
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var history string
		var fish int64
		if err := rows.Scan(&history, &fish); err != nil {
			return err
		}
		fmt.Println(history, fish)
	}
	return rows.Err()
}

// measured is one run of a process.
type measured struct{ wall, busy, peak float64 } // seconds, seconds, MB

func measure(counts func([]byte) (map[string]int64, error), name string, args ...string) (measured, map[string]int64, error) {
	cmd := exec.Command(name, args...)
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, os.Stderr
	start := time.Now()
	if err := cmd.Run(); err != nil {
		return measured{}, nil, fmt.Errorf("%s: %w", name, err)
	}
	wall := time.Since(start)
	p := cmd.ProcessState
	n, err := counts(out.Bytes())
	return measured{wall.Seconds(), (p.UserTime() + p.SystemTime()).Seconds(), float64(p.SysUsage().(*syscall.Rusage).Maxrss) / 1024}, n, err
}

// compare runs both in turn and prints each round and the medians.
func compare(unseen, dir string, fish, records, rounds int) error {
	if _, err := os.Stat(filepath.Join(dir, "sightings.csv")); err != nil {
		if err := os.MkdirAll(dir, 0o755); err != nil {
			return err
		}
		if err := writeSeason(dir, fish, records, 1); err != nil {
			return err
		}
	}
	self, err := os.Executable()
	if err != nil {
		return err
	}
	var ours, theirs []measured
	fmt.Println("round   unseen s  (busy)   MB   DuckDB s  (busy)   MB   ratio")
	for i := range rounds {
		a, counts, err := measure(ourCounts, unseen, "histories", filepath.Join(dir, "study.toml"), "--counts", "--json")
		if err != nil {
			return err
		}
		b, those, err := measure(theirCounts, self, "query", dir)
		if err != nil {
			return err
		}
		if !maps.Equal(counts, those) || len(counts) == 0 {
			return fmt.Errorf("the counts differ:\n%v\n%v", counts, those)
		}
		ours, theirs = append(ours, a), append(theirs, b)
		line(fmt.Sprint(i+1), a, b)
	}
	line("median", middle(ours), middle(theirs))
	return nil
}

func line(name string, a, b measured) {
	fmt.Printf("%-6s %9.2f %7.2f %5.0f %10.2f %7.2f %5.0f %7.2f by the clock, %.2f by processor time\n", name, a.wall, a.busy, a.peak, b.wall, b.busy, b.peak, a.wall/b.wall, a.busy/b.busy)
}

// middle is the median of each measure by itself.
func middle(of []measured) measured {
	median := func(f func(measured) float64) float64 {
		var x []float64
		for _, m := range of {
			x = append(x, f(m))
		}
		slices.Sort(x)
		return x[len(x)/2]
	}
	return measured{
		median(func(m measured) float64 { return m.wall }),
		median(func(m measured) float64 { return m.busy }),
		median(func(m measured) float64 { return m.peak }),
	}
}

// theirCounts reads what ask prints.
func theirCounts(out []byte) (map[string]int64, error) {
	counts := map[string]int64{}
	for l := range strings.Lines(string(out)) {
		var history string
		var fish int64
		if _, err := fmt.Sscan(l, &history, &fish); err != nil {
			return nil, err
		}
		counts[history] += fish
	}
	return counts, nil
}

// ourCounts reads the JSON of unseen histories: the fish of all cohorts with a
// history.
func ourCounts(out []byte) (map[string]int64, error) {
	var doc struct {
		Counts []struct {
			Seen []int `json:"seen"`
			Fish int64 `json:"count"`
		} `json:"counts"`
	}
	if err := json.Unmarshal(out, &doc); err != nil {
		return nil, err
	}
	counts := map[string]int64{}
	for _, c := range doc.Counts {
		history := ""
		for _, seen := range c.Seen {
			history += string('0' + byte(seen))
		}
		counts[history] += c.Fish
	}
	return counts, nil
}
