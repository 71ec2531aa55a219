package process

import (
	"slices"

	"golang.org/x/sys/unix"
)

// shares are the kinds of file systems whose changes the system does not tell
// of, for others make them: shares of a network, of a host, and those made by
// programs.
var shares = []uint32{unix.NFS_SUPER_MAGIC, unix.SMB_SUPER_MAGIC, unix.SMB2_SUPER_MAGIC, unix.CIFS_SUPER_MAGIC, unix.V9FS_MAGIC,
	unix.AFS_SUPER_MAGIC, unix.AFS_FS_MAGIC, unix.CODA_SUPER_MAGIC, unix.CEPH_SUPER_MAGIC, unix.FUSE_SUPER_MAGIC}

// Remote tells whether others than this machine may change what is at a path.
func Remote(path string) bool {
	var s unix.Statfs_t
	return unix.Statfs(path, &s) != nil || slices.Contains(shares, uint32(s.Type))
}
