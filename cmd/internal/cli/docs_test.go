package cli

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"sheetwash/api/batch"
)

// project is the root of the project.
const project = "../../.."

// docs/cli.md names every command and flag, and no flag that does not exist.
func TestDocumentedFlags(t *testing.T) {
	data, err := os.ReadFile(filepath.Join(project, "docs/cli.md"))
	if err != nil {
		t.Fatal(err)
	}
	page := string(data)
	exist := map[string]bool{"help": true}
	root := newRoot(&streams{})
	note := func(f *pflag.Flag) {
		exist[f.Name] = true
		if !strings.Contains(page, "`--"+f.Name) {
			t.Errorf("docs/cli.md does not tell of --%s", f.Name)
		}
	}
	root.PersistentFlags().VisitAll(note)
	var visit func(*cobra.Command)
	visit = func(parent *cobra.Command) {
		for _, c := range parent.Commands() {
			if name := strings.TrimPrefix(c.CommandPath(), "sheetwash "); !strings.Contains(page, "| `"+name) {
				t.Errorf("docs/cli.md does not tell of the command %s", name)
			}
			c.Flags().VisitAll(note)
			visit(c)
		}
	}
	visit(root)
	for _, m := range regexp.MustCompile("`--([a-z-]+)").FindAllStringSubmatch(page, -1) {
		if !exist[m[1]] {
			t.Errorf("docs/cli.md tells of --%s, which does not exist", m[1])
		}
	}
	for _, name := range batch.UncertaintyNames() {
		if !strings.Contains(page, "`"+name+"`") {
			t.Errorf("docs/cli.md does not tell of the uncertainty %s", name)
		}
	}
}

// Every link of a document within the project leads somewhere.
func TestLinks(t *testing.T) {
	link := regexp.MustCompile(`\]\(([^)#:\s]+)(#[^)]*)?\)`)
	err := filepath.WalkDir(project, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == "testdata" || d.Name() == "node_modules" || len(d.Name()) > 2 && d.Name()[0] == '.') {
			return filepath.SkipDir
		}
		if d.IsDir() || filepath.Ext(path) != ".md" {
			return nil
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		for _, m := range link.FindAllStringSubmatch(string(data), -1) {
			if _, err := os.Stat(filepath.Join(filepath.Dir(path), filepath.FromSlash(m[1]))); err != nil {
				t.Errorf("%s links to %s, which is not there", strings.TrimPrefix(filepath.ToSlash(path), project+"/"), m[1])
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
