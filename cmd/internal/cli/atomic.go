package cli

import (
	"bufio"
	"io"
	"os"
	"path/filepath"
)

// writeAtomically makes a file appear whole, with its bytes on the disk, or not
// at all.
func writeAtomically(name string, data []byte) error {
	p, err := prepare(name, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
	if err != nil {
		return err
	}
	return p.show()
}

// pending is a file that is written but not yet visible under its name. The
// usual library for this does not build on Windows, where a crew's laptop may
// well be.
type pending struct{ temporary, name string }

// prepare writes a file beside its name, with its bytes on the disk, without
// making it visible.
func prepare(name string, write func(io.Writer) error) (*pending, error) {
	f, err := os.CreateTemp(filepath.Dir(name), "."+filepath.Base(name)+"-*")
	if err != nil {
		return nil, err
	}
	p := &pending{f.Name(), name}
	b := bufio.NewWriterSize(f, 1<<16)
	err = write(b)
	for _, next := range []func() error{b.Flush, func() error { return f.Chmod(0o644) }, f.Sync} {
		if err == nil {
			err = next()
		}
	}
	if closing := f.Close(); err == nil {
		err = closing
	}
	if err != nil {
		p.drop()
		return nil, err
	}
	return p, nil
}

// show makes the file visible under its name.
func (p *pending) show() error { return os.Rename(p.temporary, p.name) }

// drop removes a file that was not shown; after show it does nothing.
func (p *pending) drop() { _ = os.Remove(p.temporary) }
