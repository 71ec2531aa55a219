package view

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/unseen/cjs"
	"example.org/unseen/cmd/unseen/internal/wire"
)

type record struct {
	Site  string        `json:"site"`
	Fish  int           `json:"fish"`
	Flags []string      `json:"flags"`
	Note  *string       `json:"note"`
	Fit   *fitOfRecord  `json:"fit"`
	Share wire.Estimate `json:"share"`
	wire.Estimate
}

type fitOfRecord struct {
	AICc wire.Number `json:"aicc"`
}

// Cells are found under keys, through what is embedded and what may be absent,
// in the kind of what is there.
func TestRecords(t *testing.T) {
	note := "a note"
	e := wire.Estimate{Estimate: 0.5, SE: 0.1, Low: 0.25, High: 0.75, Status: cjs.Borrowed, Method: "logit"}
	early := wire.Estimate{Estimate: wire.Number(math.NaN()), Low: 0.1, High: 0.9, Status: cjs.TooEarly}
	got := records("x", []record{
		{Site: "Scar Weir", Fish: 3, Flags: []string{"a", "b"}, Note: &note, Fit: &fitOfRecord{12.5}, Share: e, Estimate: early},
		{Site: "Tidehead", Estimate: e},
	},
		col("site", "site").key(), col("fish", "fish"), col("flags", ""), col("note", ""), col("aicc", "AICc", 3).from("fit.aicc"),
		col("share", "share", 1), col("share.estimate", "", 2).noted(), col("share.estimate", "").onScreen(),
		col("whole", "").from("Estimate"), col("method", ""),
		words("", "number", func(i int) string { return []string{"one", "two"}[i] }))
	var kinds []Kind
	for _, c := range got.Columns {
		kinds = append(kinds, c.Kind)
	}
	assert.Equal(t, []Kind{Text, Count, Text, Text, Number, Range, Number, Number, Range, Text, Text}, kinds)
	assert.Equal(t, Column{Name: "aicc", Title: "AICc", Kind: Number, Digits: 3}, got.Columns[4])
	assert.Equal(t, Column{Name: "site", Title: "site", Key: true}, got.Columns[0])
	assert.Empty(t, got.Columns[7].Name)
	first := got.Rows[0]
	assert.Equal(t, []Cell{T("Scar Weir"), N(3), T("a; b"), T("a note"), N(12.5), R(0.5, 0.25, 0.75).Marked("‡"), N(0.5).Marked("‡"), N(0.5)}, first[:8])
	assert.Equal(t, "early", first[8].Text)
	assert.Equal(t, "‖", first[8].Mark)
	second := got.Rows[1]
	assert.Equal(t, T(""), second[3])
	assert.True(t, math.IsNaN(second[4].Value), "what a nil pointer would hold is absent")
	assert.Equal(t, T("logit"), second[9])
	assert.Equal(t, T("two"), second[10])
	assert.PanicsWithValue(t, "a table asks view.record for sites", func() { records("x", []record{}, col("sites", "")) })
}
