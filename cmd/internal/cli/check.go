package cli

import (
	"errors"
	"fmt"
	"runtime"

	"github.com/spf13/cobra"

	"sheetwash/analysis/result"
	"sheetwash/api/batch"
	"sheetwash/api/report"
	"sheetwash/ingest"
)

func newCheck(s *streams) *cobra.Command {
	in := batch.Request{Checks: true}
	c := &cobra.Command{
		Use:   "check PATH...",
		Short: "List what is wrong in the files, and what would be assumed",
		Args:  arguments(1, -1, "one or more folders or files, or - for standard input"),
		RunE: func(c *cobra.Command, args []string) error {
			switch {
			case in.Workers < 0:
				return usage(errors.New("--jobs must be 1 or more"))
			case in.Workers == 0:
				in.Workers = runtime.GOMAXPROCS(0)
			}
			bar := newProgress(s)
			all, err := in.ReadSeason(c.Context(), args, ingest.FindOptions{Stdin: s.in}, bar.reading)
			bar.finish()
			if err != nil {
				return err
			}
			if err := s.list(all.Findings()); err != nil {
				return onDisk(err)
			}
			s.say("%d of %d datasets can be analyzed.", len(all.Datasets)-all.Refused(), len(all.Datasets))
			if exit := exitOf(all); exit != exitDone {
				return outcome(exit)
			}
			return nil
		},
	}
	c.Flags().StringVar(&in.Mapping, "mapping", "", "mapping `file` for every dataset, in place of one beside the data")
	c.Flags().IntVar(&in.Workers, "jobs", 0, "`number` of datasets that are read at once (default one per processor)")
	describe(c, "  sheetwash check testdata/demo-season",
		`Reads and checks every dataset below the paths without analyzing it, and lists
each finding by file, row and column: errors, for which the dataset would be
refused, warnings, and notes of what was assumed.

Exit codes: 0 all datasets stand, 3 every dataset refused, 4 some refused.`)
	return c
}

// list prints every finding, the worst first; in JSON as rows of the findings table.
func (s *streams) list(findings []result.Finding) error {
	if s.json {
		return report.Write(s.out, &result.Analysis{Findings: findings}, "findings", report.Options{Format: report.JSON})
	}
	color := s.color(s.out)
	for _, severity := range severities {
		for _, f := range findings {
			if f.Severity != severity {
				continue
			}
			if _, err := fmt.Fprintln(s.out, paint(severity, color)+" "+place(f)); err != nil {
				return err
			}
		}
	}
	if !s.quiet && len(findings) > 0 {
		printTallies(s.err, findings, s.color(s.err))
	}
	return nil
}
