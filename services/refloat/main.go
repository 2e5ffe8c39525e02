// Command refloat keeps a paddling club's book of boats: what came in, what was
// found and mended, what it is worth, and who has it now.
//
//	refloat calc NAME   runs one of the book's calculations by itself
package main

import (
	"fmt"
	"os"

	"refloat.example/services/refloat/calc"
)

// exitUsage is the exit code of a command line that names nothing we do.
const exitUsage = 2

func main() { os.Exit(run(os.Args[1:])) }

func run(args []string) int {
	if len(args) > 0 && args[0] == "calc" {
		return calc.Main(args[1:], os.Stdin, os.Stdout, os.Stderr)
	}
	fmt.Fprintln(os.Stderr, "say what to do: refloat calc NAME")
	return exitUsage
}
