package opinion

import "example.org/unseen/cjs/internal/plain"

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value does not exist.

func (r Result) MarshalJSON() ([]byte, error) { return plain.JSON(r) }
func (m Method) MarshalJSON() ([]byte, error) { return plain.JSON(m) }
