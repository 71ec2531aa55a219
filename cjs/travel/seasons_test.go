//go:build !studies

package travel

// seasons is the number of simulated seasons; with the build tag studies it is
// larger.
const seasons = 60
