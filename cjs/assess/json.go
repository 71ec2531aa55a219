package assess

import "example.org/unseen/cjs/internal/plain"

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value cannot be had.

// MarshalJSON implements json.Marshaler.
func (r Result) MarshalJSON() ([]byte, error) { return plain.JSON(r) }

// MarshalJSON implements json.Marshaler.
func (c Covariate) MarshalJSON() ([]byte, error) { return plain.JSON(c) }

// MarshalJSON implements json.Marshaler.
func (q Quintile) MarshalJSON() ([]byte, error) { return plain.JSON(q) }

// MarshalJSON implements json.Marshaler.
func (t Table) MarshalJSON() ([]byte, error) { return plain.JSON(t) }

// MarshalJSON implements json.Marshaler.
func (c Component) MarshalJSON() ([]byte, error) { return plain.JSON(c) }

// MarshalJSON implements json.Marshaler.
func (s Sum) MarshalJSON() ([]byte, error) { return plain.JSON(s) }

// MarshalJSON implements json.Marshaler.
func (c ClassSum) MarshalJSON() ([]byte, error) { return plain.JSON(c) }
