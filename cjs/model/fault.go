package model

// Fault is what is wrong with what a spec asks for of one part: its terms or
// its link.
type Fault struct {
	Part Part  // the part of the model it is in
	Err  error // what is wrong
}

func (f *Fault) Error() string { return f.Err.Error() }

func (f *Fault) Unwrap() error { return f.Err }
