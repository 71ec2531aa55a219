package replicate

import "example.org/unseen/cjs/internal/plain"

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value cannot be had.

// MarshalJSON implements json.Marshaler.
func (s Set) MarshalJSON() ([]byte, error) { return plain.JSON(s) }

// MarshalJSON implements json.Marshaler.
func (r Replicate) MarshalJSON() ([]byte, error) { return plain.JSON(r) }

// MarshalJSON implements json.Marshaler.
func (s Summary) MarshalJSON() ([]byte, error) { return plain.JSON(s) }

// MarshalJSON implements json.Marshaler.
func (e Estimate) MarshalJSON() ([]byte, error) { return plain.JSON(e) }
