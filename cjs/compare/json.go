package compare

import "example.org/unseen/cjs/internal/plain"

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value does not exist.

func (a Averaged) MarshalJSON() ([]byte, error)   { return plain.JSON(a) }
func (v Variant) MarshalJSON() ([]byte, error)    { return plain.JSON(v) }
func (r Result) MarshalJSON() ([]byte, error)     { return plain.JSON(r) }
func (i Importance) MarshalJSON() ([]byte, error) { return plain.JSON(i) }
func (t Test) MarshalJSON() ([]byte, error)       { return plain.JSON(t) }
