package whatif

import "example.org/unseen/cjs/internal/plain"

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value does not exist.

func (r Result) MarshalJSON() ([]byte, error)    { return plain.JSON(r) }
func (o Outcome) MarshalJSON() ([]byte, error)   { return plain.JSON(o) }
func (m Move) MarshalJSON() ([]byte, error)      { return plain.JSON(m) }
func (i Influence) MarshalJSON() ([]byte, error) { return plain.JSON(i) }
