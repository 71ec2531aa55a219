package cjs

import "example.org/unseen/cjs/internal/plain"

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value cannot be had.

func (c Curve) MarshalJSON() ([]byte, error)       { return plain.JSON(c) }
func (c CurvePoint) MarshalJSON() ([]byte, error)  { return plain.JSON(c) }
func (r Ratio) MarshalJSON() ([]byte, error)       { return plain.JSON(r) }
func (p Pace) MarshalJSON() ([]byte, error)        { return plain.JSON(p) }
func (r Relative) MarshalJSON() ([]byte, error)    { return plain.JSON(r) }
func (e Effects) MarshalJSON() ([]byte, error)     { return plain.JSON(e) }
func (f Fit) MarshalJSON() ([]byte, error)         { return plain.JSON(f) }
func (w Watched) MarshalJSON() ([]byte, error)     { return plain.JSON(w) }
func (r Refit) MarshalJSON() ([]byte, error)       { return plain.JSON(r) }
func (e Estimate) MarshalJSON() ([]byte, error)    { return plain.JSON(e) }
func (c Covariate) MarshalJSON() ([]byte, error)   { return plain.JSON(c) }
func (s Survival) MarshalJSON() ([]byte, error)    { return plain.JSON(s) }
func (d Detection) MarshalJSON() ([]byte, error)   { return plain.JSON(d) }
func (p Product) MarshalJSON() ([]byte, error)     { return plain.JSON(p) }
func (p Passed) MarshalJSON() ([]byte, error)      { return plain.JSON(p) }
func (o OneSite) MarshalJSON() ([]byte, error)     { return plain.JSON(o) }
func (r RowTest) MarshalJSON() ([]byte, error)     { return plain.JSON(r) }
func (c Coefficient) MarshalJSON() ([]byte, error) { return plain.JSON(c) }
func (m Movement) MarshalJSON() ([]byte, error)    { return plain.JSON(m) }
