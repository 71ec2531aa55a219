// Command generate makes the demo study's tables and writes down what is true
// of them. Run it by "go generate ./cmd/unseen/internal/demo".
package main

import (
	"log"
	"os"
	"path/filepath"
)

func main() {
	log.SetFlags(0)
	if len(os.Args) != 2 {
		log.Fatal("usage: generate FOLDER")
	}
	files, err := generate(seed)
	if err != nil {
		log.Fatal(err)
	}
	for name, data := range files {
		if err := os.WriteFile(filepath.Join(os.Args[1], name), data, 0o644); err != nil {
			log.Fatal(err)
		}
	}
}
