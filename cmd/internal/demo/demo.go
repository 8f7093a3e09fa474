package demo

import (
	"fmt"
	"os"
	"path/filepath"
)

// about is the README of the season.
const about = `# Demo season (invented)

The season 2031 of the Corrin Basin Land Stewards, an invented network: twelve
field days at invented places, three crews, seven treatments. Nobody measured
any of it. Every plot was simulated from known parameters, which truth.csv
lists, and its bottles were read with the errors of a field day.

Every folder, and the archive, is one field day in the form in which its crew
keeps its files. Analyze them together:

    sheetwash analyze . --out results

The files are the output of "sheetwash demo"; edit the generator, not them.
`

// Files makes every file of the season, in the order of the field days.
func Files() ([]File, error) {
	out := []File{{Path: "README.md", Data: []byte(about)}}
	truth, err := truthFile()
	if err != nil {
		return nil, fmt.Errorf("truth table: %w", err)
	}
	out = append(out, truth)
	for _, e := range season() {
		files, err := e.write(e.observe())
		if err != nil {
			return nil, fmt.Errorf("%s: %w", e.place, err)
		}
		out = append(out, files...)
	}
	return out, nil
}

// Write writes the season below a folder, which is made if need be.
func Write(dir string) error {
	files, err := Files()
	if err != nil {
		return err
	}
	for _, f := range files {
		name := filepath.Join(dir, filepath.FromSlash(f.Path))
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			return err
		}
		if err := os.WriteFile(name, f.Data, 0o644); err != nil {
			return err
		}
	}
	return nil
}
