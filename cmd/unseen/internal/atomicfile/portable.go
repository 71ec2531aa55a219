package atomicfile

import (
	"slices"
	"strings"
	"unicode"
)

// devices are names that are none of a file on Windows, whatever ending they have.
var devices = []string{"CON", "PRN", "AUX", "NUL", "CONIN$", "CONOUT$"}

// Portable tells whether a file can be called so on every system, so that a folder
// can be moved between them.
func Portable(name string) bool {
	stem, _, _ := strings.Cut(name, ".")
	stem = strings.ToUpper(strings.TrimRight(stem, " "))
	if port := []rune(stem); len(port) == 4 && (strings.HasPrefix(stem, "COM") || strings.HasPrefix(stem, "LPT")) && strings.ContainsRune("123456789¹²³", port[3]) {
		return false
	}
	return stem != "" && !slices.Contains(devices, stem) && !strings.ContainsAny(name, `<>:"/\|?*`) &&
		!strings.HasSuffix(name, " ") && !strings.HasSuffix(name, ".") && strings.IndexFunc(name, unicode.IsControl) < 0
}
