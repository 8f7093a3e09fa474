package cli

import (
	"bytes"
	"crypto/sha256"
	"encoding/gob"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sync/atomic"

	"sheetwash/analysis"
	"sheetwash/analysis/experiment"
	"sheetwash/api/batch"
)

// checkpointFolder is where a run with --resume keeps finished datasets, below
// the folder of the results. It is removed once all tables are written.
const checkpointFolder = ".resume"

// checkpoints keeps the finished parts of a run. A part is found again only by
// the same program with the same settings on the same bytes. Without --resume
// it keeps nothing.
type checkpoints struct {
	dir     string // "": nothing is kept
	program string // SHA-256 of the running program
	cans    string // digests of the datasets whose calibrations bear on the others
	found   atomic.Int64
}

func (j *job) checkpoints(all *batch.Season) (*checkpoints, error) {
	if !j.resume || j.dryRun || j.toStandardOut {
		return &checkpoints{}, nil
	}
	program, err := programDigest()
	if err != nil {
		return nil, fmt.Errorf("digest of the program: %w", err)
	}
	c := &checkpoints{dir: filepath.Join(j.out, checkpointFolder), program: program}
	for i := range all.Datasets {
		if d := &all.Datasets[i]; d.Stands() && len(d.Cans()) > 0 {
			c.cans += d.Name + " " + d.Digest + "\n"
		}
	}
	return c, nil
}

// programDigest identifies this build, whatever its version says.
func programDigest() (string, error) {
	name, err := os.Executable()
	if err != nil {
		return "", err
	}
	f, err := os.Open(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// file names the checkpoint of a dataset by everything that its part depends on.
func (c *checkpoints) file(d *batch.Dataset, plan analysis.Plan) (string, error) {
	plan.Workers = 0 // no result depends on it
	key, err := json.Marshal(struct {
		Program, Cans, Name, Digest string
		Plan                        analysis.Plan
		Errors                      experiment.ErrorModel
	}{c.program, c.cans, d.Name, d.Digest, plan, d.Errors()})
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(key)
	return filepath.Join(c.dir, hex.EncodeToString(sum[:])), nil
}

// load returns the part of a dataset that a stopped run has finished. A damaged
// checkpoint is none.
func (c *checkpoints) load(d *batch.Dataset, plan analysis.Plan) (*analysis.Part, bool) {
	if c.dir == "" {
		return nil, false
	}
	name, err := c.file(d, plan)
	if err != nil {
		return nil, false
	}
	data, err := os.ReadFile(name)
	if err != nil || len(data) < sha256.Size {
		return nil, false
	}
	body := data[sha256.Size:]
	if sum := sha256.Sum256(body); !bytes.Equal(sum[:], data[:sha256.Size]) {
		return nil, false
	}
	part := &analysis.Part{}
	if err := gob.NewDecoder(bytes.NewReader(body)).Decode(part); err != nil {
		return nil, false
	}
	c.found.Add(1)
	return part, true
}

// save keeps the part of a dataset.
func (c *checkpoints) save(d *batch.Dataset, plan analysis.Plan, part *analysis.Part) error {
	if c.dir == "" {
		return nil
	}
	name, err := c.file(d, plan)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := gob.NewEncoder(&b).Encode(part); err != nil {
		return err
	}
	if err := os.MkdirAll(c.dir, 0o755); err != nil {
		return err
	}
	sum := sha256.Sum256(b.Bytes())
	return writeAtomically(name, append(sum[:], b.Bytes()...))
}

// loaded counts the parts that were taken from a stopped run.
func (c *checkpoints) loaded() int { return int(c.found.Load()) }

// removeCheckpoints takes the finished parts away.
func removeCheckpoints(out string) error {
	err := os.RemoveAll(filepath.Join(out, checkpointFolder))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}
