//go:build !windows

package process

// inConsole is how many programs there are in this one's console, which only
// Windows tells.
func inConsole() int { return 0 }
