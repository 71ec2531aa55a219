//go:build !windows && !darwin

package main

// clicked tells whether the program was started by a double click, which here
// cannot be told from a start by another program.
func clicked() bool { return false }
