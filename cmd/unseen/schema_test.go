package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
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
		"kind": "unseen/check", "version": 1, "program": map[string]any{"version": "x"}, "title": "", "inputs": []any{},
		"as_of": nil, "fish": 1, "accounting": nil, "findings": []any{}, "activity": []any{}, "settled": []any{}, "duplicate_records": nil,
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
