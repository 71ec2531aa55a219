//go:build studies

package travel

const (
	seasons          = 400
	outageReplicates = 100
	outageDesigns    = 6
)
