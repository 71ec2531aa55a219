package process

import (
	"path/filepath"
	"strings"

	"golang.org/x/sys/windows"
)

// Remote tells whether others than this machine may change what is at a path.
func Remote(path string) bool {
	volume := filepath.VolumeName(path)
	if strings.HasPrefix(volume, `\\`) {
		return true
	}
	name, err := windows.UTF16PtrFromString(volume + `\`)
	return err != nil || windows.GetDriveType(name) == windows.DRIVE_REMOTE
}
