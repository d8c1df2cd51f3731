package main

import (
	"fmt"
	"io"
	"runtime/debug"
)

// version is set by the Makefile; a plain `go install` tells its module version.
var version = ""

func programVersion() string {
	if version != "" {
		return version
	}
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" {
		return info.Main.Version
	}
	return "unknown"
}

func runVersion(stdout io.Writer) int {
	fmt.Fprintln(stdout, "fitsqa", programVersion())
	return exitDone
}
