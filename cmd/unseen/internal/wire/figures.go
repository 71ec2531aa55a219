package wire

// Figures is the document of `unseen figures`.
type Figures struct {
	Head
	// in which the figures are
	Folder string `json:"folder"`
	// each with title, caption, description and files
	Figures []Figure `json:"figures"`
}

// Figure is a figure in each of its files.
type Figure struct {
	ID          string   `json:"id"`
	Title       string   `json:"title"`
	Caption     string   `json:"caption"`
	Description string   `json:"description"` // for those who do not see it
	Files       []string `json:"files"`
}
