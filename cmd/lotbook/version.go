package main

import (
	"context"
	_ "embed"
	"fmt"
	"strings"
)

//go:embed VERSION
var versionFile string

// version is the one place that says which version this is.
func version() string { return strings.TrimSpace(versionFile) }

func runVersion(_ context.Context, e *env, args []string) (int, error) {
	if len(args) != 0 {
		return exitUsage, wrongUsage("it takes no arguments")
	}
	fmt.Fprintf(e.stdout, "lotbook %s\n", version())
	return exitOK, nil
}
