//go:build !linux

package boltstore

import "os"

// dropCache does nothing where there is no call for it.
func dropCache(*os.File) error { return nil }
