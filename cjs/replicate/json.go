package replicate

import "example.org/unseen/cjs/internal/plain"

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value does not exist.

func (s Set) MarshalJSON() ([]byte, error)       { return plain.JSON(s) }
func (r Replicate) MarshalJSON() ([]byte, error) { return plain.JSON(r) }
func (s Summary) MarshalJSON() ([]byte, error)   { return plain.JSON(s) }
func (e Estimate) MarshalJSON() ([]byte, error)  { return plain.JSON(e) }
