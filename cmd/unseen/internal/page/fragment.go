package page

import (
	"bytes"
	"html/template"

	"example.org/unseen/cmd/unseen/internal/harmless"
	"example.org/unseen/cmd/unseen/internal/view"
)

// Style is the style sheet of a report.
func Style() string { return style }

// Fragment is blocks as they stand in a report, to be shown inside another page
// that has the report's style; its tables are as wide as they are.
func Fragment(blocks ...Block) (template.HTML, error) {
	var b bytes.Buffer
	for _, x := range blocks {
		if err := fragmentTemplate.ExecuteTemplate(&b, "block", x); err != nil {
			return "", err
		}
	}
	return template.HTML(harmless.Escape(b.String())), nil
}

// Blocks are sections as blocks without a figure; what is for programs alone is
// left out.
func Blocks(sections []view.Section) []Block { return blocks(sections) }

// Inline is running text as a report shows it.
func Inline(s string) template.HTML { return inline(harmless.Escape(s)) }
