package compare

import "example.org/unseen/cjs/internal/plain"

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value cannot be had.

// MarshalJSON implements json.Marshaler.
func (a Averaged) MarshalJSON() ([]byte, error) { return plain.JSON(a) }

// MarshalJSON implements json.Marshaler.
func (v Variant) MarshalJSON() ([]byte, error) { return plain.JSON(v) }

// MarshalJSON implements json.Marshaler.
func (r Result) MarshalJSON() ([]byte, error) { return plain.JSON(r) }

// MarshalJSON implements json.Marshaler.
func (i Importance) MarshalJSON() ([]byte, error) { return plain.JSON(i) }

// MarshalJSON implements json.Marshaler.
func (t Test) MarshalJSON() ([]byte, error) { return plain.JSON(t) }
