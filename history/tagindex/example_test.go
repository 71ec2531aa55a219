package tagindex_test

import (
	"fmt"

	"example.org/unseen/history/tagindex"
)

// One tag, written as two kinds of readers write it.
func ExampleForm_Canonical() {
	var iso tagindex.Form
	for _, tag := range []string{"3E7.098BCA5D8C", "999 041000000908"} {
		shown, key, err := iso.Canonical(tag)
		fmt.Printf("%s %x %v\n", shown, key, err)
	}
	// Output:
	// 999041000000908 38c9f5bebcd8c <nil>
	// 999041000000908 38c9f5bebcd8c <nil>
}

// A tag as bytes of a file: what cannot be read has no key.
func ExampleForm_Key() {
	text := tagindex.Form{Text: true}
	a, _ := text.Key([]byte(" A-17 "), false)
	b, _ := text.Key([]byte("A-17"), false)
	_, ok := text.Key([]byte("  "), false)
	fmt.Println(a == b, ok)
	// Output:
	// true false
}
