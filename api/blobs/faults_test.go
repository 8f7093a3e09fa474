package blobs

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// watched is a disk that writes down what happens and can fail at the k-th step.
func watched(folder string, fail int) (*files, *[]string) {
	var steps []string
	step := func(what string) error {
		steps = append(steps, what)
		if len(steps) == fail {
			return errDisk
		}
		return nil
	}
	name := func(path string) string {
		if rest, err := filepath.Rel(folder, path); err == nil && rest == "." {
			return "the folder"
		}
		return "the folder of the blob"
	}
	return &files{folder, filepath.Join(folder, "temporary"), disk{
		write: func(f *os.File, p []byte) (int, error) {
			if err := step("write"); err != nil {
				return 0, err
			}
			return f.Write(p)
		},
		sync: func(f *os.File) error { return errors.Join(step("sync the file"), f.Sync()) },
		rename: func(from, to string) error {
			if err := step("rename"); err != nil {
				return err
			}
			return os.Rename(from, to)
		},
		syncFolder: func(path string) error { return errors.Join(step("sync "+name(path)), syncFolder(path)) },
	}}, &steps
}

var errDisk = errors.New("the disk failed")

// What Put acknowledged is on the disk under its name: file, then name.
func TestOrder(t *testing.T) {
	folder := t.TempDir()
	if _, err := OpenFiles(folder); err != nil {
		t.Fatal(err)
	}
	f, steps := watched(folder, 0)
	if _, err := f.Put(context.Background(), strings.NewReader("barley")); err != nil {
		t.Fatal(err)
	}
	want := []string{"write", "write", "sync the file", "sync the folder", "rename", "sync the folder of the blob"}
	if !slices.Equal(*steps, want) {
		t.Errorf("the steps were %q, want %q", *steps, want)
	}
}

// Whichever step fails, Put says so, leaves no temporary file, and the same upload
// succeeds afterwards.
func TestFaults(t *testing.T) {
	for fail := 1; ; fail++ {
		folder := t.TempDir()
		b, err := OpenFiles(folder)
		if err != nil {
			t.Fatal(err)
		}
		f, steps := watched(folder, fail)
		kept, err := f.Put(context.Background(), strings.NewReader("barley"))
		if len(*steps) < fail {
			if err != nil {
				t.Fatalf("without a fault: %v", err)
			}
			return
		}
		t.Run(fmt.Sprint(fail, " ", (*steps)[fail-1]), func(t *testing.T) {
			if !errors.Is(err, errDisk) || kept != (Blob{}) {
				t.Errorf("Put returned %+v, %v", kept, err)
			}
			left, err := os.ReadDir(filepath.Join(folder, "temporary"))
			if err != nil || len(left) != 0 {
				t.Errorf("%d temporary files are left, %v", len(left), err)
			}
			if _, err := b.Put(context.Background(), strings.NewReader("barley")); err != nil {
				t.Errorf("the next upload: %v", err)
			}
		})
	}
}
