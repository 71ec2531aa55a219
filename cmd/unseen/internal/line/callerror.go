package line

import (
	"errors"
	"fmt"
)

// ErrCall marks an error of the call itself.
var ErrCall = errors.New("")

// Errorf is an error of the call: exit code 2.
func Errorf(format string, args ...any) error {
	return fmt.Errorf("%w%w", ErrCall, fmt.Errorf(format, args...))
}
