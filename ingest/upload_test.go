package ingest_test

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"sheetwash/ingest"
	"sheetwash/ingest/issue"
)

// An upload lies under names that are not the dataset's. It is found as the same
// files would be in a folder.
func TestFindFiles(t *testing.T) {
	dir := t.TempDir()
	lying := func(name string, data []byte) ingest.File {
		p := filepath.Join(dir, fmt.Sprintf("%x", name))
		put(t, dir, filepath.Base(p), data)
		return ingest.File{Name: name, Path: p}
	}
	day := dataset("")
	var loose, below, twoDays []ingest.File
	for name, text := range day {
		loose = append(loose, lying(name, []byte(text)))
		below = append(below, lying("day/"+name, []byte(text)))
		twoDays = append(twoDays, lying("a/"+name, []byte(text)), lying("b/"+name, []byte(strings.ReplaceAll(text, "R1", "R2"))))
	}
	whole := pack(t, day)
	for _, c := range []struct {
		name  string
		files []ingest.File
		want  []string // names of datasets that stand
		code  issue.Code
	}{
		{"files of a folder", loose, []string{"upload"}, ""},
		{"files below a folder", below, []string{"day"}, ""},
		{"two days", twoDays, []string{"a", "b"}, ""},
		{"an archive", []ingest.File{lying("day.zip", whole)}, []string{"upload"}, ""},
		{"an archive without its ending", []ingest.File{lying("day", whole)}, []string{"upload"}, ""},
		{"nothing", nil, nil, ingest.DatasetNone},
		{"no table", []ingest.File{lying("a/notes.md", []byte("x")), lying("b/notes.md", []byte("x"))}, nil, ingest.DatasetNone},
		{"a name that leads outside", []ingest.File{lying("../runs.csv", []byte(day["runs.csv"])), loose[0]}, nil, ingest.FileName},
		{"an absolute name", []ingest.File{lying("/runs.csv", []byte(day["runs.csv"]))}, nil, ingest.FileName},
		{"a name with a backslash", []ingest.File{lying(`..\runs.csv`, []byte(day["runs.csv"]))}, nil, ingest.FileName},
		{"a name twice", []ingest.File{loose[0], {Name: "./" + loose[0].Name, Path: loose[0].Path}}, nil, ingest.FileName},
	} {
		sources, issues, err := ingest.FindFiles("upload", c.files, ingest.FindOptions{})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		var stand []string
		for _, s := range sources {
			o, err := ingest.Read(t.Context(), s, ingest.Options{})
			if err != nil {
				t.Fatal(err)
			}
			if o.Dataset != nil {
				stand = append(stand, o.Name)
			} else {
				t.Errorf("%s: %s refused:%s", c.name, o.Name, list(o.Issues))
			}
		}
		if !slices.Equal(stand, c.want) {
			t.Errorf("%s: %q stand, want %q", c.name, stand, c.want)
		}
		if c.code != "" && !slices.ContainsFunc(issues.All(), func(i issue.Issue) bool { return i.Code == c.code && i.Severity == issue.Error }) {
			t.Errorf("%s: no error %s in%s", c.name, c.code, list(issues.All()))
		}
	}
	if _, _, err := ingest.FindFiles("upload", []ingest.File{{Name: "runs.csv", Path: filepath.Join(dir, "missing")}}, ingest.FindOptions{}); err == nil {
		t.Error("a file that is not there is no error")
	}
}
