package wire

// Figures is the document of `unseen figures`.
type Figures struct {
	Head
	Folder  string   `json:"folder"` // into which they were written
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
