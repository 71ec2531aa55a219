package season

import "example.org/unseen/cjs/internal/plain"

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value does not exist.

func (d Day) MarshalJSON() ([]byte, error) { return plain.JSON(d) }
