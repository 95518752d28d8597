// Command static fails where a program needs a loader or a shared library: a binary that does would not start on a
// machine, or in an image, without the same C library.
package main

import (
	"debug/elf"
	"fmt"
	"os"
)

func main() {
	failed := false
	for _, path := range os.Args[1:] {
		if why := check(path); why != "" {
			fmt.Printf("%s: %s\n", path, why)
			failed = true
			continue
		}
		fmt.Printf("%s: static\n", path)
	}
	if failed || len(os.Args) == 1 {
		os.Exit(1)
	}
}

// check gives the reason why a program is not static, or nothing.
func check(path string) string {
	f, err := elf.Open(path)
	if err != nil {
		return err.Error()
	}
	defer f.Close()
	for _, p := range f.Progs {
		if p.Type == elf.PT_INTERP {
			return "asks for a loader (PT_INTERP)"
		}
	}
	libs, err := f.ImportedLibraries()
	if err != nil {
		return err.Error()
	}
	if len(libs) > 0 {
		return fmt.Sprintf("needs shared libraries %v", libs)
	}
	return ""
}
