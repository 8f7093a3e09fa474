// Command sheetwash turns the bottles and stopwatches of rainfall simulator runs
// into numbers with intervals.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	_ "time/tzdata" // names of time zones where the system has none

	"sheetwash/cmd/internal/cli"
	"sheetwash/ingest/columnar"
)

func main() {
	columnar.ChildMain() // a decoder of ours runs the program again
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := cli.Execute(ctx, cli.Process{Args: os.Args[1:], In: os.Stdin, Out: os.Stdout, Err: os.Stderr, Env: os.Getenv})
	stop()
	os.Exit(code)
}
