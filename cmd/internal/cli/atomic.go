package cli

import (
	"bufio"
	"io"

	"github.com/google/renameio/v2"
)

// writeAtomically makes a file appear whole, with its bytes on the disk, or not
// at all.
func writeAtomically(name string, data []byte) error {
	return renameio.WriteFile(name, data, 0o644)
}

// pending is a file that is written but not yet visible under its name.
type pending struct{ f *renameio.PendingFile }

// prepare writes a file beside its name without making it visible.
func prepare(name string, write func(io.Writer) error) (*pending, error) {
	f, err := renameio.NewPendingFile(name, renameio.WithPermissions(0o644))
	if err != nil {
		return nil, err
	}
	b := bufio.NewWriterSize(f, 1<<16)
	if err := write(b); err != nil {
		return nil, cleanUp(f, err)
	}
	if err := b.Flush(); err != nil {
		return nil, cleanUp(f, err)
	}
	return &pending{f}, nil
}

func cleanUp(f *renameio.PendingFile, err error) error {
	if cleaning := f.Cleanup(); cleaning != nil {
		return cleaning
	}
	return err
}

// show makes the file visible under its name, its bytes on the disk.
func (p *pending) show() error { return p.f.CloseAtomicallyReplace() }

// drop removes a file that was not shown; after show it does nothing.
func (p *pending) drop() { _ = p.f.Cleanup() }
