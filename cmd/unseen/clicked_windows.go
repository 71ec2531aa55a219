package main

import (
	"unsafe"

	"golang.org/x/sys/windows"
)

// clicked tells whether the program was started by a double click: then it is
// the only one in its console.
func clicked() bool {
	var list [2]uint32
	n, _, _ := windows.NewLazySystemDLL("kernel32.dll").NewProc("GetConsoleProcessList").Call(uintptr(unsafe.Pointer(&list[0])), uintptr(len(list)))
	return n == 1
}
