package travel

import "example.org/unseen/cjs/internal/plain"

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value does not exist.

func (r Result) MarshalJSON() ([]byte, error)  { return plain.JSON(r) }
func (s Stretch) MarshalJSON() ([]byte, error) { return plain.JSON(s) }
func (s Stay) MarshalJSON() ([]byte, error)    { return plain.JSON(s) }
func (a Arrival) MarshalJSON() ([]byte, error) { return plain.JSON(a) }
func (l Law) MarshalJSON() ([]byte, error)     { return plain.JSON(l) }
func (c Check) MarshalJSON() ([]byte, error)   { return plain.JSON(c) }
