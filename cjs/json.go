package cjs

import "example.org/unseen/cjs/internal/plain"

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value cannot be had.

// MarshalJSON implements json.Marshaler.
func (c Curve) MarshalJSON() ([]byte, error) { return plain.JSON(c) }

// MarshalJSON implements json.Marshaler.
func (c CurvePoint) MarshalJSON() ([]byte, error) { return plain.JSON(c) }

// MarshalJSON implements json.Marshaler.
func (r Ratio) MarshalJSON() ([]byte, error) { return plain.JSON(r) }

// MarshalJSON implements json.Marshaler.
func (p Pace) MarshalJSON() ([]byte, error) { return plain.JSON(p) }

// MarshalJSON implements json.Marshaler.
func (r Relative) MarshalJSON() ([]byte, error) { return plain.JSON(r) }

// MarshalJSON implements json.Marshaler.
func (e Effects) MarshalJSON() ([]byte, error) { return plain.JSON(e) }

// MarshalJSON implements json.Marshaler.
func (f Fit) MarshalJSON() ([]byte, error) { return plain.JSON(f) }

// MarshalJSON implements json.Marshaler.
func (w Watched) MarshalJSON() ([]byte, error) { return plain.JSON(w) }

// MarshalJSON implements json.Marshaler.
func (r Refit) MarshalJSON() ([]byte, error) { return plain.JSON(r) }

// MarshalJSON implements json.Marshaler.
func (e Estimate) MarshalJSON() ([]byte, error) { return plain.JSON(e) }

// MarshalJSON implements json.Marshaler.
func (c Covariate) MarshalJSON() ([]byte, error) { return plain.JSON(c) }

// MarshalJSON implements json.Marshaler.
func (s Survival) MarshalJSON() ([]byte, error) { return plain.JSON(s) }

// MarshalJSON implements json.Marshaler.
func (d Detection) MarshalJSON() ([]byte, error) { return plain.JSON(d) }

// MarshalJSON implements json.Marshaler.
func (p Product) MarshalJSON() ([]byte, error) { return plain.JSON(p) }

// MarshalJSON implements json.Marshaler.
func (p Passed) MarshalJSON() ([]byte, error) { return plain.JSON(p) }

// MarshalJSON implements json.Marshaler.
func (o OneSite) MarshalJSON() ([]byte, error) { return plain.JSON(o) }

// MarshalJSON implements json.Marshaler.
func (r RowTest) MarshalJSON() ([]byte, error) { return plain.JSON(r) }

// MarshalJSON implements json.Marshaler.
func (c Coefficient) MarshalJSON() ([]byte, error) { return plain.JSON(c) }

// MarshalJSON implements json.Marshaler.
func (m Movement) MarshalJSON() ([]byte, error) { return plain.JSON(m) }
