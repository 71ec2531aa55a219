//go:build !linux && !darwin && !windows

package process

// Remote tells whether others than this machine may change what is at a path,
// which here cannot be told.
func Remote(string) bool { return true }
