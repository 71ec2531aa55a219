package plan

import "example.org/unseen/cjs/internal/plain"

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value does not exist.

func (p Plan) MarshalJSON() ([]byte, error)         { return plain.JSON(p) }
func (f Forecast) MarshalJSON() ([]byte, error)     { return plain.JSON(f) }
func (l Line) MarshalJSON() ([]byte, error)         { return plain.JSON(l) }
func (n Need) MarshalJSON() ([]byte, error)         { return plain.JSON(n) }
func (c Comparison) MarshalJSON() ([]byte, error)   { return plain.JSON(c) }
func (c Curve) MarshalJSON() ([]byte, error)        { return plain.JSON(c) }
func (p Power) MarshalJSON() ([]byte, error)        { return plain.JSON(p) }
func (v Verified) MarshalJSON() ([]byte, error)     { return plain.JSON(v) }
func (v Verification) MarshalJSON() ([]byte, error) { return plain.JSON(v) }
func (t Target) MarshalJSON() ([]byte, error)       { return plain.JSON(t) }
func (c Contrast) MarshalJSON() ([]byte, error)     { return plain.JSON(c) }
