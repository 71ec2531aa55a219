package plan

import "example.org/unseen/cjs/internal/plain"

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value cannot be had.

// MarshalJSON implements json.Marshaler.
func (p Plan) MarshalJSON() ([]byte, error) { return plain.JSON(p) }

// MarshalJSON implements json.Marshaler.
func (f Forecast) MarshalJSON() ([]byte, error) { return plain.JSON(f) }

// MarshalJSON implements json.Marshaler.
func (l Line) MarshalJSON() ([]byte, error) { return plain.JSON(l) }

// MarshalJSON implements json.Marshaler.
func (n Need) MarshalJSON() ([]byte, error) { return plain.JSON(n) }

// MarshalJSON implements json.Marshaler.
func (c Comparison) MarshalJSON() ([]byte, error) { return plain.JSON(c) }

// MarshalJSON implements json.Marshaler.
func (c Curve) MarshalJSON() ([]byte, error) { return plain.JSON(c) }

// MarshalJSON implements json.Marshaler.
func (p Power) MarshalJSON() ([]byte, error) { return plain.JSON(p) }

// MarshalJSON implements json.Marshaler.
func (v Verified) MarshalJSON() ([]byte, error) { return plain.JSON(v) }

// MarshalJSON implements json.Marshaler.
func (v Verification) MarshalJSON() ([]byte, error) { return plain.JSON(v) }

// MarshalJSON implements json.Marshaler.
func (t Target) MarshalJSON() ([]byte, error) { return plain.JSON(t) }

// MarshalJSON implements json.Marshaler.
func (c Contrast) MarshalJSON() ([]byte, error) { return plain.JSON(c) }
