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
		fmt.Fprintln(s.err, wrap("sheetwash: "+f.Error(), 79, "  "))
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
		Args:          noCommand,
		RunE:          func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	describe(root, `  sheetwash demo demo-season
  sheetwash analyze demo-season --out results`,
		`sheetwash reads what was caught and timed under a rainfall simulator and
computes, per plot and per treatment, the time to runoff, the steady
infiltration rate, the runoff coefficient and the sediment concentration, each
with an interval. Faults of the files are named by file, row and column.

Results are for teaching and research, not for engineering design.`)
	f := root.PersistentFlags()
	f.BoolVar(&s.quiet, "quiet", false, "say nothing but errors")
	f.BoolVar(&s.noColor, "no-color", false, "no colours (the variable NO_COLOR does the same)")
	f.BoolVar(&s.json, "json", false, "answer in JSON")
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usage(err) })
	root.AddCommand(newAnalyze(s), newReport(s), newCheck(s), newMap(s), newTemplate(s), newDemo(s), newExplain(s), newPlan(s), newServe(s), newWorker(s), newKey(s), newVersion(s))
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
{{.LocalFlags.FlagUsagesWrapped 79 | trimTrailingWhitespaces}}{{end}}{{if .HasAvailableInheritedFlags}}

Flags of every command:
{{.InheritedFlags.FlagUsagesWrapped 79 | trimTrailingWhitespaces}}{{end}}
`

// arguments makes a wrong number of arguments a usage error that says what is
// wanted; most below 0 is any number.
func arguments(least, most int, wanted string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) >= least && (most < 0 || len(args) <= most) {
			return nil
		}
		return usage(fmt.Errorf("%s takes %s; see sheetwash %s --help", c.Name(), wanted, c.Name()))
	}
}

// noCommand is what the program says to a first argument that is no command.
func noCommand(_ *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	return usage(fmt.Errorf("there is no command %q; see sheetwash --help", args[0]))
}
