package cli

import (
	"github.com/spf13/cobra"

	"sheetwash/cmd/internal/demo"
)

func newDemo(s *streams) *cobra.Command {
	var force bool
	c := &cobra.Command{
		Use:   "demo DIR",
		Short: "Write an invented season to try things on",
		Args:  arguments(1, 1, "one folder"),
		RunE: func(_ *cobra.Command, args []string) error {
			season, err := demo.Files()
			if err != nil {
				return err
			}
			var files []file
			for _, f := range season {
				files = append(files, file{f.Path, f.Data})
			}
			if err := writeFiles(args[0], files, force); err != nil {
				return err
			}
			if s.json {
				return s.listFiles(args[0], files)
			}
			s.say("Wrote an invented season of twelve field days to %s.", args[0])
			s.say("Next: sheetwash analyze %s --out results", args[0])
			return nil
		},
	}
	c.Flags().BoolVar(&force, "force", false, "replace files that are there already")
	describe(c, "  sheetwash demo demo-season",
		`Writes the season of the Corrin Basin Land Stewards, an invented network:
twelve field days in the forms in which crews keep their files, made by a
generator from known parameters that stand beside them in truth.csv. Nobody
measured any of it.`)
	return c
}
