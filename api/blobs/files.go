package blobs

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"
)

// abandoned is the age at which the temporary file of a Put that was cut off goes.
const abandoned = 24 * time.Hour

// files keeps blobs in a folder: <folder>/<first two digits>/<digest>.
type files struct {
	folder    string
	temporary string
	disk      disk
}

// disk is what happens to files on the way to being kept.
type disk struct {
	write      func(f *os.File, p []byte) (int, error)
	sync       func(f *os.File) error
	rename     func(from, to string) error
	syncFolder func(path string) error
}

var realDisk = disk{(*os.File).Write, (*os.File).Sync, os.Rename, syncFolder}

// syncFolder sees the names in a folder onto the disk. Windows does that with the
// rename and can't sync a folder.
func syncFolder(path string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// OpenFiles keeps blobs in a folder, which is made when missing. What an earlier
// process left half written more than a day ago is removed.
func OpenFiles(folder string) (Blobs, error) {
	f := &files{folder, filepath.Join(folder, "temporary"), realDisk}
	if err := os.MkdirAll(f.temporary, 0o755); err != nil {
		return nil, fmt.Errorf("open the blobs: %w", err)
	}
	if err := errors.Join(f.tidy(), syncFolder(folder)); err != nil {
		return nil, fmt.Errorf("open the blobs: %w", err)
	}
	return f, nil
}

// aside is how a blob is called while DeleteOld looks at it.
const aside = "old-"

// tidy removes abandoned temporary files, and puts back a fresh blob that a killed
// DeleteOld had taken out of the way.
func (f *files) tidy() error {
	left, err := os.ReadDir(f.temporary)
	if err != nil {
		return err
	}
	for _, entry := range left {
		info, err := entry.Info()
		if err != nil {
			continue // gone meanwhile
		}
		path := filepath.Join(f.temporary, entry.Name())
		digest, blob := strings.CutPrefix(entry.Name(), aside)
		switch {
		case time.Since(info.ModTime()) > abandoned:
			err = os.Remove(path)
		case blob && proper(digest):
			err = f.show(path, f.path(digest))
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (f *files) path(digest string) string { return filepath.Join(f.folder, digest[:2], digest) }

// Put implements Blobs: the bytes go to a temporary file, onto the disk, under
// their name, and the name onto the disk; then it returns.
func (f *files) Put(ctx context.Context, r io.Reader) (Blob, error) {
	blob, temporary, err := f.spool(ctx, r)
	if temporary != "" {
		defer os.Remove(temporary) // after the rename it does nothing
	}
	if err != nil {
		return Blob{}, err
	}
	if err := f.show(temporary, f.path(blob.Digest)); err != nil {
		return Blob{}, fmt.Errorf("keep a blob: %w", err)
	}
	return blob, nil
}

// spool writes what it reads to a temporary file and onto the disk.
func (f *files) spool(ctx context.Context, r io.Reader) (blob Blob, name string, err error) {
	to, err := os.CreateTemp(f.temporary, "put-*")
	if err != nil {
		return Blob{}, "", fmt.Errorf("keep a blob: %w", err)
	}
	blob, err = copyHashed(ctx, writer(func(p []byte) (int, error) { return f.disk.write(to, p) }), r)
	if err == nil {
		if err = f.disk.sync(to); err != nil {
			err = fmt.Errorf("keep a blob: %w", err)
		}
	}
	return blob, to.Name(), errors.Join(err, to.Close())
}

// show gives a file its name, and sees the name onto the disk.
func (f *files) show(from, to string) error {
	folder := filepath.Dir(to)
	switch err := os.Mkdir(folder, 0o755); {
	case err == nil:
		if err := f.disk.syncFolder(f.folder); err != nil {
			return err
		}
	case !errors.Is(err, fs.ErrExist):
		return err
	}
	if err := f.disk.rename(from, to); err != nil {
		return err
	}
	return f.disk.syncFolder(folder)
}

// writer is a function that writes.
type writer func([]byte) (int, error)

func (w writer) Write(p []byte) (int, error) { return w(p) }

// Open implements Blobs.
func (f *files) Open(_ context.Context, digest string) (Reader, error) {
	file, size, err := f.open(digest)
	if err != nil {
		return nil, err
	}
	return verify(file, size, digest), nil
}

func (f *files) open(digest string) (*os.File, int64, error) {
	if !proper(digest) {
		return nil, 0, ErrNotFound
	}
	file, err := os.Open(f.path(digest))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, 0, ErrNotFound
	}
	if err != nil {
		return nil, 0, fmt.Errorf("open a blob: %w", err)
	}
	info, err := file.Stat()
	if err != nil {
		return nil, 0, errors.Join(fmt.Errorf("open a blob: %w", err), file.Close())
	}
	return file, info.Size(), nil
}

// Range implements Blobs.
func (f *files) Range(_ context.Context, digest string, offset, length int64) (io.ReadCloser, error) {
	file, _, err := f.open(digest)
	if err != nil {
		return nil, err
	}
	return struct {
		io.Reader
		io.Closer
	}{io.NewSectionReader(file, offset, length), file}, nil
}

// Stat implements Blobs.
func (f *files) Stat(_ context.Context, digest string) (Blob, error) {
	if !proper(digest) {
		return Blob{}, ErrNotFound
	}
	info, err := os.Stat(f.path(digest))
	if errors.Is(err, fs.ErrNotExist) {
		return Blob{}, ErrNotFound
	}
	if err != nil {
		return Blob{}, fmt.Errorf("ask for a blob: %w", err)
	}
	return Blob{digest, info.Size(), info.ModTime()}, nil
}

// Delete implements Blobs.
func (f *files) Delete(_ context.Context, digest string) error {
	if !proper(digest) {
		return nil
	}
	if err := os.Remove(f.path(digest)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("delete a blob: %w", err)
	}
	return nil
}

// DeleteOld implements Blobs. The blob is taken out of the way first, and put back
// if it turns out to be one that was put meanwhile.
func (f *files) DeleteOld(ctx context.Context, digest string, before time.Time) error {
	b, err := f.Stat(ctx, digest)
	if errors.Is(err, ErrNotFound) || err == nil && !b.Modified.Before(before) {
		return nil
	}
	if err != nil {
		return err
	}
	taken := filepath.Join(f.temporary, aside+digest)
	if err := os.Rename(f.path(digest), taken); err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		return fmt.Errorf("delete an old blob: %w", err)
	}
	info, err := os.Stat(taken)
	switch {
	case err != nil:
	case info.ModTime().Before(before):
		err = os.Remove(taken)
	default:
		err = f.show(taken, f.path(digest))
	}
	if err != nil {
		return fmt.Errorf("delete an old blob: %w", err)
	}
	return nil
}

// List implements Blobs.
func (f *files) List(ctx context.Context, do func(Blob) error) error {
	return filepath.WalkDir(f.folder, func(path string, entry fs.DirEntry, err error) error {
		if err := errors.Join(err, ctx.Err()); err != nil {
			return fmt.Errorf("list the blobs: %w", err)
		}
		if entry.IsDir() || !proper(entry.Name()) {
			return nil
		}
		info, err := entry.Info()
		if errors.Is(err, fs.ErrNotExist) {
			return nil // deleted meanwhile
		}
		if err != nil {
			return fmt.Errorf("list the blobs: %w", err)
		}
		return do(Blob{entry.Name(), info.Size(), info.ModTime()})
	})
}

// Check implements Blobs.
func (f *files) Check(ctx context.Context) error { return probe(ctx, f) }

// Close implements Blobs.
func (f *files) Close() error { return nil }
