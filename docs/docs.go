// Package docs holds the pages of this folder, so that the installed program
// can show what they say of a warning, a rule or a check.
package docs

import "embed"

// Pages are the pages, by file name.
//
//go:embed *.md
var Pages embed.FS
