package assess

import "example.org/unseen/cjs/internal/plain"

// Results as JSON: every exported field, its name in lower case with
// underscores, null where a value does not exist.

func (r Result) MarshalJSON() ([]byte, error)    { return plain.JSON(r) }
func (c Covariate) MarshalJSON() ([]byte, error) { return plain.JSON(c) }
func (q Quintile) MarshalJSON() ([]byte, error)  { return plain.JSON(q) }
func (a SeenAt) MarshalJSON() ([]byte, error)    { return plain.JSON(a) }
func (t Table) MarshalJSON() ([]byte, error)     { return plain.JSON(t) }
func (c Component) MarshalJSON() ([]byte, error) { return plain.JSON(c) }
func (s Sum) MarshalJSON() ([]byte, error)       { return plain.JSON(s) }
func (c ClassSum) MarshalJSON() ([]byte, error)  { return plain.JSON(c) }
