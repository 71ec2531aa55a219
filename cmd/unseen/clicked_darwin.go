package main

import (
	"os"
	"path/filepath"
)

// clicked tells whether the program was started by a double click: Finder has a
// terminal run it by its whole path, in the home folder.
func clicked() bool {
	home, errHome := os.UserHomeDir()
	here, errHere := os.Getwd()
	in, errIn := os.Stdin.Stat()
	return errHome == nil && errHere == nil && errIn == nil && here == home && filepath.IsAbs(os.Args[0]) && in.Mode()&os.ModeCharDevice != 0
}
