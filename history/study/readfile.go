package study

import (
	"fmt"
	"io"
	"os"
)

// The largest documents that are read whole, in bytes: a study of a million files
// or a plan, and a result or a million replicates.
const (
	LargestStudy  = 64 << 20
	LargestResult = 4 << 30
)

// ReadFile reads a document whole: a study, a plan, a result. A device or a pipe
// may have no end, and has no second reading; it is refused, as is what is larger
// than the largest.
func ReadFile(path string, most int64) ([]byte, error) {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, err
	case info.IsDir():
		return nil, fmt.Errorf("%s is a folder; name a file", path)
	case !info.Mode().IsRegular():
		return nil, fmt.Errorf("%s is a device or a pipe and no file; save what it gives, and name that file", path)
	case info.Size() > most:
		return nil, fmt.Errorf("%s has %d bytes; such a document has at most %d, so this is another file", path, info.Size(), most)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, most+1))
	if err == nil && int64(len(data)) > most {
		err = fmt.Errorf("%s grows while it is read", path)
	}
	return data, err
}
