//go:build !linux

package operate

import "errors"

func available(string) (uint64, error) { return 0, errors.ErrUnsupported }
