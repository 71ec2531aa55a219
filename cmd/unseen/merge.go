package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io/fs"

	"github.com/urfave/cli/v2"

	"example.org/unseen/cjs/analysis"
	"example.org/unseen/cjs/replicate"
	"example.org/unseen/cmd/unseen/internal/atomicfile"
	"example.org/unseen/cmd/unseen/internal/harmless"
	"example.org/unseen/cmd/unseen/internal/line"
	"example.org/unseen/cmd/unseen/internal/view"
	"example.org/unseen/cmd/unseen/internal/wire"
	"example.org/unseen/history"
	"example.org/unseen/history/study"
)

func mergeCommand() *cli.Command {
	return &cli.Command{
		Name:      "merge",
		Usage:     "merge bootstrap replicates computed in parts",
		UsageText: "unseen merge FILE… [flags]",
		Description: "Reads files of `unseen fit --interval bootstrap --save`, which must be parts of one run: the\n" +
			"same data, model, method and seed, no replicate twice.\n\n" +
			"Example:  unseen merge part1.jsonl part2.jsonl --save all.jsonl",
		Flags: append([]cli.Flag{
			&cli.StringFlag{Name: "save", Usage: "write all replicates to `FILE`"},
			line.LevelFlag(),
		}, line.OutputFlags()...),
		Action: mergeAction,
	}
}

func mergeAction(c *cli.Context) error {
	level := c.Float64("level")
	if c.NArg() == 0 {
		return line.Errorf("merge needs files of replicates: unseen merge part1.jsonl part2.jsonl")
	}
	files := line.WithPatterns(c.Args().Slice())
	from := analysis.Source{Path: files[0]}
	var parts []*replicate.Set
	for _, file := range files {
		text, err := study.ReadFile(file, study.LargestResult)
		if errors.Is(err, fs.ErrNotExist) {
			return line.Errorf("there is no file %s", file)
		}
		if err != nil {
			return err
		}
		s, err := replicate.Read(bytes.NewReader(text), file)
		if err != nil {
			return err
		}
		parts = append(parts, s)
		sum := sha256.Sum256(text)
		from.Inputs = append(from.Inputs, history.Input{File: file, SHA256: hex.EncodeToString(sum[:])})
	}
	all, err := replicate.Merge(parts...)
	if err != nil {
		return err
	}
	if file := c.String("save"); file != "" {
		if err := atomicfile.Write(file, line.OutputRule(c, from), harmless.Document(all.Write)); err != nil {
			return err
		}
	}
	sum, err := all.Summarise(level)
	if err != nil {
		return err
	}
	return line.Show(c, from, line.Answer{
		Page: view.MergePage(from, all, sum, level),
		Doc:  func(head wire.Head) any { return wire.NewMerge(head, all, sum, level) },
	})
}
