package main

import (
	"maps"
	"path/filepath"
	"slices"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/history/study"
)

// fileTargets are the flags that name a file to write, and folderTargets those
// that name a folder, with files that are written into it in any case.
var fileTargets = map[string][]string{
	"xlsx":   nil, // of every command
	"output": {"report", "new"},
	"save":   {"plan", "merge"},
	"figure": {"plan", "simulate"},
	"new":    {"plan"},
}

var folderTargets = map[string]map[string][]string{
	"csv": {
		"demo": {"inputs.csv", "fit.csv", "passed.csv"}, "fit": {"inputs.csv", "fit.csv", "passed.csv"}, "changes": {"number_changes.csv", "count_changes.csv"},
		"check": {"inputs.csv", "accounting.csv", "set_aside.csv"}, "compare": {"inputs.csv", "models.csv"}, "assess": {"inputs.csv", "checks.csv"},
		"travel": {"inputs.csv", "travel.csv"}, "season": {"inputs.csv", "season.csv"}, "growth": {"inputs.csv", "tagged.csv"},
		"plan": {"passed.csv"}, "simulate": {"inputs.csv", "simulated.csv"}, "merge": {"inputs.csv"}, "report": {"fit.csv", "passed.csv"},
	},
	"out":    {"simulate": {"study.toml", "fish.csv", "sightings.csv", "truth.json"}},
	"output": {"figures": {"captions.txt"}},
}

// checkTargets refuses what could not be written, before anything is read or
// fitted. What is known only later is refused then.
func checkTargets(c *cli.Context) error {
	targets := map[string]bool{}
	for flag, commands := range fileTargets {
		if path := c.String(flag); path != "" && path != "-" && (commands == nil || slices.Contains(commands, c.Command.Name)) {
			targets[path] = true
		}
	}
	for flag, commands := range folderTargets {
		if dir := c.String(flag); dir != "" {
			for _, name := range commands[c.Command.Name] {
				targets[filepath.Join(dir, name)] = true
			}
		}
	}
	if len(targets) == 0 {
		return nil
	}
	var from analysis.Source
	if c.NArg() > 0 {
		if path, err := line.StudyFile(c.Args().Get(c.NArg() - 1)); err == nil {
			if st, err := study.Load(path); err == nil {
				from.StudyFile = st
			}
		}
	}
	rule := line.OutputRule(c, from)
	for _, path := range slices.Sorted(maps.Keys(targets)) {
		if err := atomicfile.Check(path, rule); err != nil {
			return err
		}
	}
	return nil
}
