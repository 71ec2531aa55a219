package view

import (
	"fmt"
	"slices"
	"strings"

	"example.org/unseen/history"
)

// AccountingLine says where the records read ended.
func AccountingLine(a *history.Accounting) string { return accountingLine(a, true) }

// accountingLine is AccountingLine, with or without the reasons.
func accountingLine(a *history.Accounting, reasons bool) string {
	var set int64
	for _, b := range a.SetAside {
		set += b.Records
	}
	s := fmt.Sprintf("%s read = %s kept + %s", Plural(a.Read, "record"), Plural(a.Kept, "passage"), Plural(a.Repeats, "repeat"))
	if set == 0 {
		return s + "."
	}
	s += fmt.Sprintf(" + %s set aside", Digits(float64(set), 0))
	if !reasons {
		return s + " (see `unseen check`)."
	}
	const named = 3
	boxes := slices.Clone(a.SetAside)
	slices.SortStableFunc(boxes, func(x, y history.Box) int { return int(y.Records - x.Records) })
	var parts []string
	for i, b := range boxes {
		if i == named && len(boxes) > named+1 {
			rest := int64(0)
			for _, b := range boxes[i:] {
				rest += b.Records
			}
			parts = append(parts, Digits(float64(rest), 0)+" for other reasons")
			break
		}
		parts = append(parts, fmt.Sprintf("%s %s", Digits(float64(b.Records), 0), b.Name))
	}
	return s + " (" + strings.Join(parts, ", ") + "; see `unseen check`)."
}

// AccountingTable shows every box; they add up to the records read.
func AccountingTable(a *history.Accounting) Table {
	t := Table{ID: "accounting", Columns: []Column{
		{Title: "records", Key: true}, {Name: "box"},
		{Name: "records", Title: "number", Kind: Count},
		{Name: "fish", Title: "fish", Kind: Count},
		{Name: "example", Title: "first example"},
	}}
	add := func(name, id string, n int64, fish Cell, example string) {
		t.Rows = append(t.Rows, []Cell{T(name), T(id), I(n), fish, T(example)})
	}
	add("kept: first of a passage", "kept", a.Kept, None(), "")
	add("repeats of a passage", "repeats", a.Repeats, None(), "")
	for _, b := range a.SetAside {
		fish := None()
		if b.Fish > 0 {
			fish = I(b.Fish)
		}
		add("set aside: "+b.Name, b.Rule, b.Records, fish, b.Example)
	}
	add("read", "read", a.Read, None(), "")
	return t
}

// FindingTable lists what the reading of the data noticed, for programs.
func FindingTable(findings []history.Finding) Table {
	t := records("findings", findings, col("id", ""), col("about", ""), col("count", ""), col("example", ""), col("message", ""), col("advice", ""))
	t.CSVOnly = true
	return t
}

// InputTable lists the files read.
func InputTable(inputs []history.Input) Table {
	t := records("inputs", inputs, col("file", ""), col("sha256", ""))
	t.CSVOnly = true
	return t
}
