package process

import "golang.org/x/sys/unix"

// Remote tells whether others than this machine may change what is at a path.
func Remote(path string) bool {
	var s unix.Statfs_t
	return unix.Statfs(path, &s) != nil || s.Flags&unix.MNT_LOCAL == 0
}
