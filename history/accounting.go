package history

// Accounting is where every record read ended; its boxes add up to Read.
type Accounting struct {
	// Read is the number of sighting records read, headers not counted.
	Read int64 `json:"read"`
	// Kept is the number of passages kept: the first record of each.
	Kept int64 `json:"kept"`
	// Repeats is the number of further records of a kept passage.
	Repeats int64 `json:"repeats"`
	// SetAside are the records set aside, by rule, in the documented order
	// of the rules; rules that matched nothing are left out.
	SetAside []Box `json:"set_aside"`
}

// Box counts the records one rule set aside.
type Box struct {
	// Rule is the rule's stable ID.
	Rule string `json:"rule"`
	// Name is the rule's name for people.
	Name    string `json:"name" schema:"words"`
	Records int64  `json:"records"`
	// Fish is the number of distinct fish concerned; 0 where no fish is known.
	Fish int64 `json:"fish,omitempty"`
	// Example is the first such record, as file:line.
	Example string `json:"example,omitempty"`
}

// Sum is what the boxes add up to; it equals Read.
func (a *Accounting) Sum() int64 {
	n := a.Kept + a.Repeats
	for _, b := range a.SetAside {
		n += b.Records
	}
	return n
}

// Finding is something the reading of the data noticed: reported, with its
// first example and what to do, ordered by how much it can move the answer.
type Finding struct {
	ID      string `json:"id"`                     // stable; `unseen explain` shows its text
	Message string `json:"message" schema:"words"` // for people
	About   string `json:"about,omitempty"`        // what it concerns, such as a site or a tag
	Count   int64  `json:"count"`                  // records or fish
	// Example is the first case, as file:line, or "".
	Example string `json:"example,omitempty"`
	// Advice is what to do.
	Advice string `json:"advice,omitempty" schema:"words"`
	// Impact is the share of the answer it can move, by which findings are
	// ordered.
	Impact float64 `json:"-"`
}

// Input is a file that was read.
type Input struct {
	File   string `json:"file"`   // its path as in the study file
	SHA256 string `json:"sha256"` // of its bytes, in hexadecimal
}
