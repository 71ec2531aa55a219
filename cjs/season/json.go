package season

import "example.org/unseen/cjs/internal/plain"

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value cannot be had.

func (d Day) MarshalJSON() ([]byte, error) { return plain.JSON(d) }
