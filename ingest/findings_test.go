package ingest_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"sheetwash/ingest"
	"sheetwash/ingest/check"
	"sheetwash/ingest/mapping"
)

// documented returns code and severities of each row of docs/findings.md.
func documented(t *testing.T) map[string]string {
	t.Helper()
	page, err := os.ReadFile("../docs/findings.md")
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, m := range regexp.MustCompile("(?m)^\\| `([a-z_.]+)` \\| ([a-z, ]+) \\| [^|]{10,} \\| [^|]{3,} \\|$").FindAllStringSubmatch(string(page), -1) {
		if out[m[1]] != "" {
			t.Errorf("%s stands twice in docs/findings.md", m[1])
		}
		out[m[1]] = m[2]
	}
	return out
}

// declared returns every constant of type issue.Code in the packages below this
// folder, those of the service and of the command line.
func declared(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, root := range []string{".", "../api", "../cmd"} {
		declaredBelow(t, root, out)
	}
	return out
}

func declaredBelow(t *testing.T, root string, out map[string]string) {
	t.Helper()
	err := filepath.WalkDir(root, func(p string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || !strings.HasSuffix(p, ".go") || strings.HasSuffix(p, "_test.go") {
			return err
		}
		f, err := parser.ParseFile(token.NewFileSet(), p, nil, 0)
		if err != nil {
			return err
		}
		ast.Inspect(f, func(n ast.Node) bool {
			v, ok := n.(*ast.ValueSpec)
			if !ok {
				return true
			}
			if s, ok := v.Type.(*ast.SelectorExpr); !ok || s.Sel.Name != "Code" {
				return true
			}
			for _, x := range v.Values {
				if lit, ok := x.(*ast.BasicLit); ok {
					code, _ := strconv.Unquote(lit.Value)
					out[code] = p
				}
			}
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// TestFindingsPage keeps docs/findings.md in step with the code: each code is
// described once, with its severity, and no other is.
func TestFindingsPage(t *testing.T) {
	page, code := documented(t), declared(t)
	for c, p := range code {
		if page[c] == "" {
			t.Errorf("%s (%s) is not in docs/findings.md", c, p)
		}
	}
	for c := range page {
		if code[c] == "" {
			t.Errorf("docs/findings.md describes %s, which no package declares", c)
		}
	}
	for _, e := range append(check.Catalogue(), ingest.Catalogue()...) {
		if page[string(e.Code)] != e.Severity.String() {
			t.Errorf("%s is %s in docs/findings.md and %s in the code", e.Code, page[string(e.Code)], e.Severity)
		}
	}
	for _, e := range mapping.Catalogue() {
		if !strings.Contains(page[string(e.Code)], e.Severity.String()) {
			t.Errorf("%s is %s in docs/findings.md and %s in the code", e.Code, page[string(e.Code)], e.Severity)
		}
	}
}

// TestRulesAndCatalogue asks that every code of package check belongs to a rule.
func TestRulesAndCatalogue(t *testing.T) {
	ruled := map[string]bool{string(check.StartDefault): true} // of FillStarts
	for _, r := range check.Rules() {
		for _, c := range r.Codes {
			ruled[string(c)] = true
		}
	}
	for _, e := range check.Catalogue() {
		if !ruled[string(e.Code)] {
			t.Errorf("no rule reports %s", e.Code)
		}
	}
}
