//go:build !studies

package travel

// seasons is the number of simulated seasons; outageReplicates are those of each
// design with an outage, of which so many run. With the build tag studies there
// are more.
const (
	seasons          = 60
	outageReplicates = 16
	outageDesigns    = 3
)
