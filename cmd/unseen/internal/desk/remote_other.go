//go:build !linux && !darwin && !windows

package desk

// remote tells whether others than this machine may change what is at a path,
// which here cannot be told.
func remote(string) bool { return true }
