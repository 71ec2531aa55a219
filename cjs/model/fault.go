package model

// Fault is what is wrong with what a spec asks for of one part: its terms or
// its link.
type Fault struct {
	Part Part  // the part of the model it is in
	Err  error // what is wrong
	// Mistyped: the terms cannot be read, or name what the study does not have.
	Mistyped bool
}

// unknownName is an error of a name that the study does not have.
type unknownName struct{ error }

func (f *Fault) Error() string {
	if f.Err == nil {
		return "the model cannot be read"
	}
	return f.Err.Error()
}

func (f *Fault) Unwrap() error { return f.Err }
