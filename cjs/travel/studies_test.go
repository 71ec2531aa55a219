//go:build studies

package travel

const seasons = 400
