package demo

import (
	"bytes"
	"testing"
)

// Two makings of the season give the same bytes.
func TestFilesAreReproducible(t *testing.T) {
	a, err := Files()
	if err != nil {
		t.Fatal(err)
	}
	b, err := Files()
	if err != nil {
		t.Fatal(err)
	}
	total := 0
	for i := range a {
		if a[i].Path != b[i].Path || !bytes.Equal(a[i].Data, b[i].Data) {
			t.Errorf("%s differs between two makings", a[i].Path)
		}
		total += len(a[i].Data)
	}
	if total > 3<<20 {
		t.Errorf("the season has %d bytes; it is checked in and should stay below 3 MB", total)
	}
}
