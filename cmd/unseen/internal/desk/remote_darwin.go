package desk

import "golang.org/x/sys/unix"

// remote tells whether others than this machine may change what is at a path.
func remote(path string) bool {
	var s unix.Statfs_t
	return unix.Statfs(path, &s) != nil || s.Flags&unix.MNT_LOCAL == 0
}
