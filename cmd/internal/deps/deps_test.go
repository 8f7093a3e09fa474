package deps

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

const module = "sheetwash"

// listed is what "go list" says of a package.
type listed struct {
	ImportPath, Dir string
	Imports         []string
	Module          *struct{ Path string }
	Standard        bool
}

// packages lists the packages of the module. Imports of tests are not among
// them: a test may see more than the package it tests.
func packages(t *testing.T) []listed {
	t.Helper()
	c := exec.Command("go", "list", "-e", "-json=ImportPath,Dir,Imports,Module,Standard", module+"/...")
	var stderr bytes.Buffer
	c.Stderr = &stderr
	out, err := c.Output()
	if err != nil {
		t.Fatalf("go list: %v\n%s", err, stderr.String())
	}
	var all []listed
	for dec := json.NewDecoder(bytes.NewReader(out)); ; {
		var p listed
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			return all
		} else if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
}

// Every package has a rule and keeps it.
func TestImports(t *testing.T) {
	for _, p := range packages(t) {
		path := strings.TrimPrefix(p.ImportPath, module+"/")
		r, ok := ruleOf(path)
		if !ok {
			t.Errorf("%s has no rule in the table: say what it may import, and why", path)
			continue
		}
		for _, imported := range p.Imports {
			if !r.allows(imported) {
				t.Errorf("%s imports %s, which its rule does not allow (%s)", path, imported, r.reason)
			}
		}
	}
}

// Nobody imports cmd but cmd, and a rule names nothing that does not exist.
func TestTable(t *testing.T) {
	var paths []string
	for _, p := range packages(t) {
		path := strings.TrimPrefix(p.ImportPath, module+"/")
		paths = append(paths, path)
		for _, imported := range p.Imports {
			if strings.HasPrefix(imported, module+"/cmd/") && !strings.HasPrefix(path, "cmd/") {
				t.Errorf("%s imports %s: nobody but cmd imports cmd", path, imported)
			}
		}
	}
	for _, r := range table {
		for _, name := range append([]string{r.pkg}, r.ours...) {
			if !slices.ContainsFunc(paths, func(p string) bool { return covers(name, p) }) {
				t.Errorf("the rule of %s names %s, which is no package", r.pkg, name)
			}
		}
		if r.reason == "" {
			t.Errorf("the rule of %s has no reason", r.pkg)
		}
	}
}

// ruleOf returns the rule of a package: its own, else that of a folder above it.
func ruleOf(path string) (rule, bool) {
	for _, r := range table {
		if r.pkg == path {
			return r, true
		}
	}
	for _, r := range table {
		if strings.HasSuffix(r.pkg, "/...") && covers(r.pkg, path) {
			return r, true
		}
	}
	return rule{}, false
}

// covers reports whether a name of the table stands for a package.
func covers(name, path string) bool {
	if stem, ok := strings.CutSuffix(name, "/..."); ok {
		return path == stem || strings.HasPrefix(path, stem+"/")
	}
	return name == path
}

func (r rule) allows(imported string) bool {
	if path, ours := strings.CutPrefix(imported, module+"/"); ours {
		return slices.ContainsFunc(r.ours, func(name string) bool { return covers(name, path) })
	}
	first, _, _ := strings.Cut(imported, "/")
	if !strings.Contains(first, ".") {
		return true // the standard library
	}
	return slices.ContainsFunc(r.others, func(m string) bool { return imported == m || strings.HasPrefix(imported, m+"/") })
}
