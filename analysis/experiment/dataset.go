package experiment

import (
	"errors"
	"fmt"
)

// Dataset is a validated set of runs. Its slices are for reading only.
type Dataset struct {
	name    string
	digest  string
	runs    []Run
	cans    []Can
	rigs    []Rig
	errors  ErrorModel
	headers Headers
}

// Parts is what New makes a Dataset of.
type Parts struct {
	Name   string // path below the folder that was given, or its name
	Digest string // SHA-256 of the input bytes, hex
	Runs   []Run
	Cans   []Can
	Rigs   []Rig // profiles of simulators
	Errors ErrorModel
	// Headers are those of columns that their files name otherwise than the data dictionary.
	Headers Headers
}

// Headers are the headers of columns as they stand in their files.
type Headers map[Heading]string

// Heading names a column of a file by its name in the data dictionary.
type Heading struct{ File, Column string }

// ErrInvalid is returned by New for parts that no checked input can have.
var ErrInvalid = errors.New("invalid dataset")

// New returns a Dataset that keeps the domain's promises: keys are unique,
// areas and rain durations positive, intervals ordered. It returns ErrInvalid
// with the place otherwise.
func New(p Parts) (*Dataset, error) {
	seen := map[string]bool{}
	for _, r := range p.Runs {
		switch {
		case r.ID == "":
			return nil, fmt.Errorf("%w: run without an identifier at %s:%d", ErrInvalid, r.Place.File, r.Place.Row)
		case seen[r.ID]:
			return nil, fmt.Errorf("%w: run %q twice", ErrInvalid, r.ID)
		case !(r.RainMin > 0):
			return nil, fmt.Errorf("%w: run %q: rain duration %v min", ErrInvalid, r.ID, r.RainMin)
		}
		seen[r.ID] = true
		if err := checkPlots(r); err != nil {
			return nil, err
		}
	}
	return &Dataset{name: p.Name, digest: p.Digest, runs: p.Runs, cans: p.Cans, rigs: p.Rigs, errors: p.Errors, headers: p.Headers}, nil
}

func checkPlots(r Run) error {
	seen := map[string]bool{}
	for _, p := range r.Plots {
		switch {
		case p.ID == "" || seen[p.ID]:
			return fmt.Errorf("%w: run %q: plot %q is empty or twice", ErrInvalid, r.ID, p.ID)
		case p.Treatment == "":
			return fmt.Errorf("%w: run %q plot %q: no treatment", ErrInvalid, r.ID, p.ID)
		case !(p.AreaM2 > 0):
			return fmt.Errorf("%w: run %q plot %q: area %v m2", ErrInvalid, r.ID, p.ID, p.AreaM2)
		}
		seen[p.ID] = true
		for _, s := range p.Samples {
			if s.Stream != Remainder && !(s.EndMin > s.StartMin) {
				return fmt.Errorf("%w: run %q plot %q: sample from %v to %v min", ErrInvalid, r.ID, p.ID, s.StartMin, s.EndMin)
			}
		}
	}
	return nil
}

// Name returns the dataset's path below the folder that was given, or its name.
func (d *Dataset) Name() string { return d.name }

// Digest returns the SHA-256 of the dataset's input bytes in hexadecimal.
func (d *Dataset) Digest() string { return d.digest }

// Runs returns the runs, ordered by identifier, their plots likewise. The caller must not write to them.
func (d *Dataset) Runs() []Run { return d.runs }

// Cans returns the catch cans in file order. The caller must not write to them.
func (d *Dataset) Cans() []Can { return d.cans }

// Errors returns the standard uncertainties of the dataset's instruments.
func (d *Dataset) Errors() ErrorModel { return d.errors }

// Header returns the header of a column as it stands in its file, "" where it is the
// name of the data dictionary.
func (d *Dataset) Header(file, column string) string { return d.headers[Heading{file, column}] }

// Parts returns what the dataset was made of, for one that differs in a part. The caller must not write to
// what it refers to.
func (d *Dataset) Parts() Parts {
	return Parts{Name: d.name, Digest: d.digest, Runs: d.runs, Cans: d.cans, Rigs: d.rigs, Errors: d.errors, Headers: d.headers}
}

// Rigs returns the profiles of simulators in the order of their file. The caller must not write to them.
func (d *Dataset) Rigs() []Rig { return d.rigs }

// Rig returns the profile of a simulator: the one of its name, else the one
// without a name; nil where there is neither. The caller must not write to it.
func (d *Dataset) Rig(simulator string) *Rig { return RigOf(d.rigs, simulator) }

// RigOf returns the profile of a simulator among several: the one of its name,
// else the one without a name; nil where there is neither.
func RigOf(rigs []Rig, simulator string) *Rig {
	var general *Rig
	for i := range rigs {
		switch rigs[i].Simulator {
		case simulator:
			return &rigs[i]
		case "":
			general = &rigs[i]
		}
	}
	return general
}
