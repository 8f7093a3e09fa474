package cli

import (
	"encoding/json"
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"

	"sheetwash/api/batch"
)

// Version is the release that this source becomes.
const Version = "0.1.0"

// build says what was built from what.
type build struct {
	Version  string `json:"version"`
	Go       string `json:"go"`
	Revision string `json:"revision"` // of the source; "" where the build did not record it
}

func thisBuild() build {
	b := build{Version: Version, Go: runtime.Version()}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return b
	}
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision":
			b.Revision = s.Value + b.Revision
		case s.Key == "vcs.modified" && s.Value == "true":
			b.Revision += "+changes"
		}
	}
	return b
}

// thisProgram is this build as the provenance of results names it.
func thisProgram() batch.Program {
	b := thisBuild()
	return batch.Program{Name: "sheetwash", Version: b.Version, Revision: b.Revision}
}

func newVersion(s *streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "version",
		Short: "Say which version this is",
		Args:  arguments(0, 0, "no argument"),
		RunE: func(*cobra.Command, []string) error {
			b := thisBuild()
			if s.json {
				return json.NewEncoder(s.out).Encode(b)
			}
			revision := b.Revision
			if revision == "" {
				revision = "not recorded"
			}
			_, err := fmt.Fprintf(s.out, "sheetwash %s\nrevision %s\n%s\n", b.Version, revision, b.Go)
			return err
		},
	}
	describe(c, "  sheetwash version", "Prints the version, the revision of the source where the build recorded it, and\nthe Go release.")
	return c
}
