// Package examples holds three small programs that use the library: table fits a
// table typed in by hand, season replays a season, report writes a page.
package examples
