package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"
)

// Process is the world of one command.
type Process struct {
	Args []string // without the program's name
	In   io.Reader
	Out  io.Writer
	Err  io.Writer
	Env  func(string) string // as os.Getenv
}

// Execute runs a command and returns the exit code: 0 done, 1 internal, 2 usage,
// 3 every dataset refused, 4 some refused, 5 not found, 7 a file is in the way,
// 8 disk, 130 interrupted.
func Execute(ctx context.Context, p Process) int {
	s := &streams{in: p.In, out: p.Out, err: p.Err, env: p.Env}
	root := newRoot(s)
	root.SetArgs(p.Args)
	root.SetIn(p.In)
	root.SetOut(p.Out)
	root.SetErr(p.Err)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return exitDone
	}
	var said outcome
	if errors.As(err, &said) {
		return int(said)
	}
	f := classify(ctx, err)
	s.complain(f)
	return f.exit
}

// complain tells why a command has no result.
func (s *streams) complain(f *failure) {
	if !s.json {
		fmt.Fprintf(s.err, "sheetwash: %v\n", f.err)
		return
	}
	problem := struct {
		Title  string `json:"title"`
		Detail string `json:"detail"`
		Code   string `json:"code"`
		Exit   int    `json:"exit"`
	}{titles[f.exit], f.err.Error(), f.code, f.exit}
	if data, err := json.Marshal(problem); err == nil {
		fmt.Fprintf(s.err, "%s\n", data)
	}
}

var titles = map[int]string{
	exitInternal: "Internal error", exitUsage: "Not understood", exitRefused: "Data refused", exitNotFound: "Not found",
	exitConflict: "In the way", exitIO: "Disk or device failed", exitInterrupted: "Stopped", exitTerminated: "Stopped",
}

// newRoot builds the tree of commands.
func newRoot(s *streams) *cobra.Command {
	root := &cobra.Command{
		Use:           "sheetwash",
		Short:         "Turn the bottles and stopwatches of rainfall simulator runs into numbers with intervals",
		SilenceUsage:  true,
		SilenceErrors: true,
		Args:          arguments(cobra.NoArgs),
		RunE:          func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	describe(root, `  sheetwash demo demo-season
  sheetwash analyze demo-season --out results`,
		`sheetwash reads what was caught and timed under a rainfall simulator and computes, per plot and
per treatment, the time to runoff, the steady infiltration rate, the runoff coefficient and the
sediment concentration, each with an interval. Faults of the files are named by file, row and column.`)
	f := root.PersistentFlags()
	f.BoolVar(&s.quiet, "quiet", false, "say nothing but errors")
	f.BoolVar(&s.noColor, "no-color", false, "no colours (the variable NO_COLOR does the same)")
	f.BoolVar(&s.json, "json", false, "answer in JSON")
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usage(err) })
	root.AddCommand(newAnalyze(s), newCheck(s), newMap(s), newTemplate(s), newDemo(s), newVersion(s))
	root.CompletionOptions.HiddenDefaultCmd = true
	return root
}

// describe gives a command its help: the example first, then what it does.
func describe(c *cobra.Command, example, long string) {
	c.Example, c.Long = example, long
	c.SetHelpTemplate(helpTemplate)
	c.SetUsageTemplate(helpTemplate)
}

// helpTemplate starts with an example that runs as written.
const helpTemplate = `Example:
{{.Example}}

{{if .Long}}{{.Long}}

{{end}}Usage:
  {{.UseLine}}{{if .HasAvailableSubCommands}} [command]

Commands:{{range .Commands}}{{if .IsAvailableCommand}}
  {{rpad .Name .NamePadding}} {{.Short}}{{end}}{{end}}{{end}}{{if .HasAvailableLocalFlags}}

Flags:
{{.LocalFlags.FlagUsages | trimTrailingWhitespaces}}{{end}}{{if .HasAvailableInheritedFlags}}

Flags of every command:
{{.InheritedFlags.FlagUsages | trimTrailingWhitespaces}}{{end}}
`

// arguments makes a check of the arguments a usage error.
func arguments(check cobra.PositionalArgs) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if err := check(c, args); err != nil {
			return usage(fmt.Errorf("%w (see sheetwash %s --help)", err, c.Name()))
		}
		return nil
	}
}
