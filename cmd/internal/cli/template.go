package cli

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"sheetwash/ingest/schema"
)

func newTemplate(s *streams) *cobra.Command {
	var force bool
	c := &cobra.Command{
		Use:   "template DIR",
		Short: "Write empty tables with one filled example row each, and a profile",
		Args:  arguments(1, 1, "one folder"),
		RunE: func(_ *cobra.Command, args []string) error {
			files, err := templates()
			if err != nil {
				return err
			}
			if err := writeFiles(args[0], files, force); err != nil {
				return err
			}
			if s.json {
				return s.listFiles(args[0], files)
			}
			s.say("%s", wrap(fmt.Sprintf("Wrote %d tables and simulator.yaml to %s. Replace the example rows; leave out the tables and columns that you don't need.", len(files)-1, args[0]), 79, "  "))
			return nil
		},
	}
	c.Flags().BoolVar(&force, "force", false, "replace files that are there already")
	describe(c, "  sheetwash template my-field-day",
		`Writes runs.csv, plots.csv, samples.csv, cans.csv and readings.csv with every
column of the data dictionary, its unit in the header, and one example row, and
simulator.yaml, the profile of the simulator, with a comment for every key.
Leave out the tables and columns that you don't need.

Before the rain: keep water and mains electricity apart, use outlets with
residual-current (ground-fault) protection, keep extension leads and vacuums
out of standing water, stand a heavy table on level ground, mind the weight of
a full tank, and let the pressure off before a hose is opened. Local codes and
a licensed electrician have the last word.`)
	return c
}

// file is something to be written below a folder.
type file struct {
	path string
	data []byte
}

// templates makes one CSV file per table of the data dictionary, and the profile of a simulator.
func templates() ([]file, error) {
	var out []file
	for _, t := range schema.Tables() {
		header, example := make([]string, len(t.Columns)), make([]string, len(t.Columns))
		for i, c := range t.Columns {
			header[i], example[i] = c.Name, c.Example
			if c.Unit != "" && c.Default != "" {
				header[i] = fmt.Sprintf("%s [%s]", c.Name, strings.Trim(c.Default, "{}"))
			}
		}
		var b bytes.Buffer
		w := csv.NewWriter(&b)
		if err := w.WriteAll([][]string{header, example}); err != nil {
			return nil, err
		}
		out = append(out, file{t.Name + ".csv", b.Bytes()})
	}
	return append(out, file{"simulator.yaml", []byte(profileTemplate)}), nil
}

// listFiles answers in JSON with what was written.
func (s *streams) listFiles(dir string, files []file) error {
	answer := struct {
		Files []string `json:"files"`
	}{}
	for _, f := range files {
		answer.Files = append(answer.Files, filepath.ToSlash(filepath.Join(dir, f.path)))
	}
	e := json.NewEncoder(s.out)
	e.SetIndent("", "  ")
	return e.Encode(answer)
}

// writeFiles writes files below a folder, which is made if need be; all are prepared
// before the first is shown. Unless force is set, a file that exists stops it before
// anything is written.
func writeFiles(dir string, files []file, force bool) error {
	for _, f := range files {
		name := filepath.Join(dir, filepath.FromSlash(f.path))
		if _, err := os.Stat(name); err == nil && !force {
			return conflict(fmt.Errorf("%s is there already; --force replaces it", name))
		}
	}
	var ready []*pending
	defer func() {
		for _, p := range ready {
			p.drop()
		}
	}()
	for _, f := range files {
		name := filepath.Join(dir, filepath.FromSlash(f.path))
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			return onDisk(err)
		}
		p, err := prepare(name, func(w io.Writer) error {
			_, err := w.Write(f.data)
			return err
		})
		if err != nil {
			return onDisk(err)
		}
		ready = append(ready, p)
	}
	for _, p := range ready {
		if err := p.show(); err != nil {
			return onDisk(err)
		}
	}
	return nil
}
