package travel

import "example.org/unseen/cjs/internal/plain"

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value cannot be had.

// MarshalJSON implements json.Marshaler.
func (r Result) MarshalJSON() ([]byte, error) { return plain.JSON(r) }

// MarshalJSON implements json.Marshaler.
func (s Stretch) MarshalJSON() ([]byte, error) { return plain.JSON(s) }

// MarshalJSON implements json.Marshaler.
func (s Stay) MarshalJSON() ([]byte, error) { return plain.JSON(s) }

// MarshalJSON implements json.Marshaler.
func (a Arrival) MarshalJSON() ([]byte, error) { return plain.JSON(a) }

// MarshalJSON implements json.Marshaler.
func (l Law) MarshalJSON() ([]byte, error) { return plain.JSON(l) }

// MarshalJSON implements json.Marshaler.
func (c Check) MarshalJSON() ([]byte, error) { return plain.JSON(c) }
