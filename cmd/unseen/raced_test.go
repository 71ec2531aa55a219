//go:build race

package main

// raced is whether the race detector looks on. It runs with -short; a long test of
// things that go on at the same time runs there all the same.
const raced = true
