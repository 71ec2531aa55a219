package process

import (
	"unsafe"

	"golang.org/x/sys/windows"
)

// inConsole is how many programs there are in this one's console; 0 where it has
// none.
func inConsole() int {
	var list [2]uint32
	n, _, _ := windows.NewLazySystemDLL("kernel32.dll").NewProc("GetConsoleProcessList").Call(uintptr(unsafe.Pointer(&list[0])), uintptr(len(list)))
	return int(n)
}
