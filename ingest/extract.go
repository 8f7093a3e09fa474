package ingest

import (
	"archive/zip"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"sheetwash/ingest/issue"
)

// extract unpacks the files that are members of an archive into a folder and
// points them there. A member that is damaged or larger than the directory says
// is a finding. Only names that the archive's census accepted come here, and
// they are opened below the folder's root.
func extract(ctx context.Context, files []file, dir string, l Limits) ([]issue.Issue, error) {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, fmt.Errorf("unpack: %w", err)
	}
	defer root.Close()
	var faults []issue.Issue
	var z *zip.ReadCloser
	opened := ""
	defer func() {
		if z != nil {
			z.Close()
		}
	}()
	for i := range files {
		f := &files[i]
		if f.member == "" {
			continue
		}
		if opened != f.disk {
			if z != nil {
				z.Close()
			}
			if z, err = zip.OpenReader(f.disk); err != nil && !errors.Is(err, zip.ErrInsecurePath) {
				return nil, fmt.Errorf("unpack: %w", err)
			}
			opened = f.disk
		}
		message, err := extractOne(ctx, z, f, root)
		if err != nil {
			return nil, fmt.Errorf("unpack %s: %w", f.name, err)
		}
		if message != "" {
			faults = append(faults, issue.Issue{Code: ZipDamaged, Severity: issue.Error, File: f.name, Message: message})
		}
		f.disk, f.member = filepath.Join(dir, filepath.FromSlash(f.name)), ""
	}
	return faults, nil
}

// extractOne unpacks one member. The message says what is wrong with it.
func extractOne(ctx context.Context, z *zip.ReadCloser, f *file, root *os.Root) (message string, err error) {
	local := filepath.FromSlash(f.name)
	if !filepath.IsLocal(local) {
		return "", fmt.Errorf("%q leads outside the archive", f.name)
	}
	if err := root.MkdirAll(filepath.Dir(local), 0o700); err != nil {
		return "", err
	}
	w, err := root.OpenFile(local, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return "", err
	}
	defer w.Close()
	if f.index >= len(z.File) || z.File[f.index].Name != f.member {
		return "the archive was changed while it was being read: try again", nil
	}
	r, err := z.File[f.index].Open()
	if err != nil {
		return "the member cannot be unpacked: pack it again with an ordinary zip program", nil
	}
	defer r.Close()
	n, err := io.Copy(w, &cancelled{ctx, io.LimitReader(r, f.size+1)})
	var disk *os.PathError
	switch {
	case ctx.Err() != nil:
		return "", ctx.Err()
	case errors.As(err, &disk):
		return "", err
	case err != nil:
		return "the member is damaged or cut off: pack it again", nil
	case n > f.size:
		return "the member is larger than the archive says: pack it again", nil
	}
	return "", w.Close()
}

// cancelled is a reader that ends with its context.
type cancelled struct {
	ctx context.Context
	r   io.Reader
}

func (c *cancelled) Read(p []byte) (int, error) {
	if err := c.ctx.Err(); err != nil {
		return 0, err
	}
	return c.r.Read(p)
}
