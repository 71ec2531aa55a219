package tagcode_test

import (
	"fmt"

	"example.org/unseen/history/tagcode"
)

// The forms in which readers write one tag.
func ExampleParse() {
	for _, s := range []string{"3E7.098BCA5D8C", "999 041000000908"} {
		c, err := tagcode.Parse(s)
		if err != nil {
			panic(err)
		}
		fmt.Println(c, c.Hex())
	}
	_, err := tagcode.Parse("3E7.098BCA5D8")
	fmt.Println(err)
	// Output:
	// 999041000000908 3E7.098BCA5D8C
	// 999041000000908 3E7.098BCA5D8C
	// 12 characters where 15 decimal digits, or 3 and 10 hexadecimal digits, are expected
}

// A code from its two numbers.
func ExampleMake() {
	c, err := tagcode.Make(999, 41000000908)
	if err != nil {
		panic(err)
	}
	fmt.Println(c.Country(), c.Identification(), c)
	// Output:
	// 999 41000000908 999041000000908
}
