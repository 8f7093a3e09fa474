package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"sheetwash/ingest/columnar"
	"sheetwash/ingest/mapping"
	"sheetwash/ingest/table"
)

func newMap(s *streams) *cobra.Command {
	c := &cobra.Command{
		Use:   "map FILE",
		Short: "Propose a mapping for a file with columns of its own",
		Args:  arguments(1, 1, "one file, or - for standard input"),
		RunE: func(c *cobra.Command, args []string) error {
			if info, err := os.Stat(args[0]); err == nil && info.IsDir() {
				return usage(fmt.Errorf("%s is a folder: give one of its files", args[0]))
			}
			p, err := propose(c.Context(), s, args[0])
			if err != nil {
				return err
			}
			if s.json {
				return s.proposalJSON(p)
			}
			if _, err := s.out.Write(p.Render()); err != nil {
				return onDisk(err)
			}
			for _, t := range p.Tables {
				if len(t.Missing) > 0 {
					s.say("%s", wrap("Nothing was found for "+t.Table+"."+strings.Join(t.Missing, ", "+t.Table+".")+": add it by hand.", 79, "  "))
				}
			}
			if len(p.Unnamed) > 0 {
				s.say("%s", wrap("No role was found for: "+strings.Join(p.Unnamed, ", ")+".", 79, "  "))
			}
			s.say("Read it, correct it, and save it as mapping.yaml beside the data.")
			return nil
		},
	}
	describe(c, `  sheetwash map "testdata/demo-season/08-copper-lea/jugs.csv"`,
		`Reads the headers, the units and some of the values of a file and proposes
which column plays which role, with how sure it is beside each. The proposal is
a mapping.yaml on standard output.`)
	return c
}

// propose proposes a mapping for every table of a file, joined into one.
func propose(ctx context.Context, s *streams, file string) (*mapping.Proposal, error) {
	tables, err := openTables(ctx, s, file)
	if err != nil {
		return nil, err
	}
	out := &mapping.Proposal{Map: &mapping.Map{Missing: map[string]mapping.Meaning{}}}
	for _, t := range tables {
		p, err := mapping.ProposeTable(ctx, t)
		err = errors.Join(err, t.Close())
		if err != nil {
			return nil, err
		}
		maps.Copy(out.Map.Missing, p.Map.Missing)
		for _, src := range p.Map.Sources {
			src.File, src.Sheet, _ = strings.Cut(src.File, "#") // a sheet of a workbook
			out.Map.Sources = append(out.Map.Sources, src)
		}
		out.Tables = append(out.Tables, p.Tables...)
		out.Unnamed = append(out.Unnamed, p.Unnamed...)
	}
	if len(out.Tables) == 0 {
		return nil, &failure{exitRefused, "data_rejected", fmt.Errorf("%s: no column looks like one of the data dictionary (sheetwash template lists them)", file)}
	}
	return out, nil
}

// openTables opens the tables of a file: one, or the sheets of a workbook.
func openTables(ctx context.Context, s *streams, file string) ([]table.Table, error) {
	var data []byte
	var err error
	name := filepath.Base(file)
	if file == "-" {
		name = "stdin"
		data, err = io.ReadAll(s.in)
	} else {
		data, err = os.ReadFile(file)
	}
	if err != nil {
		return nil, err
	}
	if len(data) == 0 {
		return nil, &failure{exitRefused, "data_rejected", fmt.Errorf("%s is empty", file)}
	}
	if strings.EqualFold(filepath.Ext(name), ".xlsx") {
		sheets, issues, err := table.OpenWorkbook(name, strings.NewReader(string(data)))
		if err == nil && len(sheets) == 0 {
			for _, i := range issues.All() {
				err = errors.Join(err, i)
			}
			err = &failure{exitRefused, "data_rejected", errors.Join(fmt.Errorf("%s has no sheet with a table", file), err)}
		}
		return sheets, err
	}
	var t table.Table
	if columnar.Detect(data[:min(len(data), columnar.HeadSize)]) != columnar.NotColumnar {
		t, err = columnar.Open(ctx, name, table.BaseName(name), columnar.Source{Data: data}, columnar.Options{})
	} else {
		t, err = table.OpenText(name, table.BaseName(name), strings.NewReader(string(data)), table.TextOptions{})
	}
	if err != nil {
		return nil, err
	}
	if t.Issues().Errors() > 0 {
		for _, i := range t.Issues().All() {
			err = errors.Join(err, i)
		}
		return nil, &failure{exitRefused, "data_rejected", errors.Join(err, t.Close())}
	}
	return []table.Table{t}, nil
}

// proposalJSON writes the proposal with its certainties.
func (s *streams) proposalJSON(p *mapping.Proposal) error {
	type column struct {
		Name       string  `json:"name"`
		Header     string  `json:"header"`
		Confidence float64 `json:"confidence"`
		Why        string  `json:"why"`
	}
	type source struct {
		Table      string   `json:"table"`
		Confidence float64  `json:"confidence"`
		Columns    []column `json:"columns"`
		Missing    []string `json:"missing"`
	}
	answer := struct {
		Tables  []source `json:"tables"`
		Unnamed []string `json:"unnamed"`
		Mapping string   `json:"mapping"`
	}{Tables: []source{}, Unnamed: append([]string{}, p.Unnamed...), Mapping: string(p.Render())}
	for _, t := range p.Tables {
		src := source{t.Table, t.Confidence, []column{}, append([]string{}, t.Missing...)}
		for _, c := range t.Columns {
			src.Columns = append(src.Columns, column{c.Name, c.Header, c.Confidence, c.Why})
		}
		answer.Tables = append(answer.Tables, src)
	}
	e := json.NewEncoder(s.out)
	e.SetIndent("", "  ")
	return e.Encode(answer)
}
