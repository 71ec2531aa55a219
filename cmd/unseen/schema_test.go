package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/unseen/cjs"
	"example.org/unseen/cmd/unseen/internal/changes"
	"example.org/unseen/cmd/unseen/internal/wire"
)

// validate checks a document against the schema of its kind. The schemas let
// other programs' readers meet fields that are added later; here every field
// must be described.
func validate(root string, document []byte) error {
	var head struct {
		Kind string `json:"kind"`
	}
	if err := json.Unmarshal(document, &head); err != nil {
		return fmt.Errorf("not JSON: %w", err)
	}
	name, ok := strings.CutPrefix(head.Kind, "unseen/")
	if !ok {
		return fmt.Errorf("kind is %q", head.Kind)
	}
	f, err := os.Open(filepath.Join(root, "docs/schema", name+".json"))
	if err != nil {
		return err
	}
	defer f.Close()
	doc, err := jsonschema.UnmarshalJSON(f)
	if err != nil {
		return err
	}
	closeObjects(doc)
	c := jsonschema.NewCompiler()
	if err := c.AddResource(name, doc); err != nil {
		return err
	}
	schema, err := c.Compile(name)
	if err != nil {
		return err
	}
	value, err := jsonschema.UnmarshalJSON(bytes.NewReader(document))
	if err != nil {
		return err
	}
	return schema.Validate(value)
}

// closeObjects refuses fields that a schema does not describe.
func closeObjects(node any) {
	switch n := node.(type) {
	case map[string]any:
		for _, v := range n {
			closeObjects(v)
		}
		_, described := n["properties"].(map[string]any)
		if _, open := n["additionalProperties"]; described && n["type"] == "object" && !open {
			n["additionalProperties"] = false
		}
	case []any:
		for _, v := range n {
			closeObjects(v)
		}
	}
}

func TestSchemaRefuses(t *testing.T) {
	good := map[string]any{
		"kind": "unseen/check", "version": 1, "program": map[string]any{"version": "x"}, "title": "", "animal": "fish", "occasion": "site", "inputs": []any{},
		"as_of": nil, "fish": 1, "accounting": nil, "findings": []any{}, "activity": []any{}, "settled": []any{}, "duplicate_records": nil, "declared": []any{},
	}
	check := func(change func(m map[string]any)) error {
		m := map[string]any{}
		for k, v := range good {
			m[k] = v
		}
		change(m)
		b, err := json.Marshal(m)
		require.NoError(t, err)
		return validate("../..", b)
	}
	assert.NoError(t, check(func(map[string]any) {}))
	assert.Error(t, check(func(m map[string]any) { m["fish"] = "many" }))
	assert.Error(t, check(func(m map[string]any) { m["undescribed"] = 1 }))
	assert.Error(t, check(func(m map[string]any) { delete(m, "findings") }))
	assert.Error(t, check(func(m map[string]any) { m["kind"] = "something" }))
}

// answers are the types of all documents, by the command that writes them.
var answers = map[string]reflect.Type{
	"assess": reflect.TypeFor[wire.Assess](), "changes": reflect.TypeFor[changes.Result](), "check": reflect.TypeFor[wire.Check](),
	"compare": reflect.TypeFor[wire.Compare](), "fit": reflect.TypeFor[wire.Fit](), "growth": reflect.TypeFor[wire.Growth](),
	"figures": reflect.TypeFor[wire.Figures](), "new": reflect.TypeFor[wire.New](),
	"histories": reflect.TypeFor[wire.Histories](), "merge": reflect.TypeFor[wire.Merge](), "plan": reflect.TypeFor[wire.Plan](),
	"season": reflect.TypeFor[wire.Season](), "simulate": reflect.TypeFor[wire.Simulate](), "travel": reflect.TypeFor[wire.Travel](),
}

// TestSchemas: the schemas of docs/schema are those of the Go types.
func TestSchemas(t *testing.T) {
	const folder = "../../docs/schema"
	g := &generator{t: t, source: map[string]*comments{}}
	for _, kind := range slices.Sorted(maps.Keys(answers)) {
		now := g.schemaOf(kind, answers[kind])
		path := filepath.Join(folder, kind+".json")
		if *update {
			require.NoError(t, os.WriteFile(path, now, 0o644))
			continue
		}
		have, err := os.ReadFile(path)
		require.NoError(t, err)
		line := 0
		for a, b := strings.Split(string(have), "\n"), strings.Split(string(now), "\n"); line < min(len(a), len(b)) && a[line] == b[line]; line++ {
		}
		assert.True(t, bytes.Equal(have, now), "%s is not current from line %d on; if what it would say is right: go test ./cmd/unseen -run TestSchemas -update", path, line+1)
	}
	files, err := filepath.Glob(filepath.Join(folder, "*"))
	require.NoError(t, err)
	assert.Len(t, files, len(answers), "a schema without a document")
}

// sample has one field of each sort that a schema tells apart.
type sample struct {
	Always  string         `json:"always"`
	Left    string         `json:"left,omitempty"`
	Maybe   *string        `json:"maybe"`
	Number  wire.Number    `json:"number"`
	Float   float64        `json:"float"`
	Count   int            `json:"count"`
	Signed  int            `json:"signed" schema:"signed"`
	Record  *int           `json:"record" schema:"min=1"`
	Verdict cjs.Verdict    `json:"verdict"`
	Status  cjs.Status     `json:"status" schema:"empty"`
	Method  string         `json:"method" schema:"enum=one|another"`
	Bits    []int          `json:"bits" schema:"enum=0|1"`
	Three   [3]*string     `json:"three"`
	None    []int          `json:"none" schema:"null"`
	Sum     string         `json:"a_sha256"`
	Any     map[string]any `json:"any" schema:"type=string|null"`
	Of      wire.Of        `json:"of"`
	Inner   *inner         `json:"inner"`
	Hidden  string         `json:"-"`
}

type inner struct {
	Yes bool `json:"yes"`
}

// What the generator makes of a type accepts what the type can be and nothing
// else.
func TestGeneratedSchema(t *testing.T) {
	g := &generator{t: t, source: map[string]*comments{}, made: map[reflect.Type]bool{}}
	body := g.fields(reflect.TypeFor[sample]())
	text, err := json.Marshal(append(body, pair{"$defs", g.defs}))
	require.NoError(t, err)
	schema, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	require.NoError(t, err)
	closeObjects(schema)
	c := jsonschema.NewCompiler()
	require.NoError(t, c.AddResource("sample", schema))
	compiled, err := c.Compile("sample")
	require.NoError(t, err)
	good := map[string]string{"always": `""`, "left": `"x"`, "maybe": "null", "number": "null", "float": "1.5", "count": "0", "signed": "-1",
		"record": "null", "verdict": `"converged"`, "status": `""`, "method": `"one"`, "bits": "[0,1]", "three": `[null,"x",null]`, "none": "null",
		"a_sha256": `"` + strings.Repeat("0f", 32) + `"`, "any": `{"x":null,"y":"z"}`, "of": `{"cohort":"early"}`, "inner": "null"}
	check := func(key, value string) error {
		var parts []string
		for k, v := range good {
			if k == key {
				v = value
			}
			if v != "" {
				parts = append(parts, `"`+k+`":`+v)
			}
		}
		if good[key] == "" && key != "" {
			parts = append(parts, `"`+key+`":`+value)
		}
		doc, err := jsonschema.UnmarshalJSON(strings.NewReader("{" + strings.Join(parts, ",") + "}"))
		require.NoError(t, err)
		return compiled.Validate(doc)
	}
	require.NoError(t, check("", ""))
	for _, ok := range [][2]string{{"left", ""}, {"maybe", `"x"`}, {"number", "-1.5"}, {"record", "1"}, {"status", `"held"`}, {"none", "[2]"}, {"inner", `{"yes":true}`}} {
		assert.NoError(t, check(ok[0], ok[1]), ok)
	}
	for _, bad := range [][2]string{
		{"always", ""}, {"always", "null"}, {"left", "null"}, {"maybe", ""}, {"maybe", "1"}, {"number", `"1"`}, {"float", "null"}, {"count", "-1"}, {"count", "1.5"},
		{"signed", "0.5"}, {"record", "0"}, {"verdict", `""`}, {"verdict", `"done"`}, {"status", `"done"`}, {"method", `"three"`}, {"bits", "[2]"}, {"bits", "null"},
		{"three", `["x","y"]`}, {"none", "{}"}, {"a_sha256", `"0f"`}, {"any", `{"x":1}`}, {"of", `{"cohort":null}`}, {"inner", "{}"}, {"inner", `{"yes":true,"no":1}`},
		{"undescribed", "1"},
	} {
		assert.Error(t, check(bad[0], bad[1]), bad)
	}
}
