package ingest_test

import (
	"context"
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"sheetwash/ingest"
	"sheetwash/ingest/columnar"
	"sheetwash/ingest/issue"
)

func TestMain(m *testing.M) {
	columnar.ChildMain()
	os.Exit(m.Run())
}

const badDir = "../testdata/bad"

// expected is a row of testdata/bad/expected.csv: which finding a fixture must provoke, and where.
type expected struct {
	fixture string
	code    issue.Code
	file    string
	row     int64
	column  string
}

func readExpected(t *testing.T) []expected {
	t.Helper()
	f, err := os.Open(filepath.Join(badDir, "expected.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	records, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []expected
	for _, r := range records[1:] {
		row, err := strconv.ParseInt(r[3], 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, expected{r[0], issue.Code(r[1]), r[2], row, r[4]})
	}
	return out
}

// readOnly reads the one dataset at a path.
func readOnly(t *testing.T, p string, opt ingest.Options) *ingest.Outcome {
	t.Helper()
	sources, issues, err := ingest.Find([]string{p}, ingest.FindOptions{Limits: opt.Limits})
	if err != nil {
		t.Fatal(err)
	}
	if len(sources) != 1 {
		t.Fatalf("Find(%s) = %d datasets, want 1; issues %v", p, len(sources), issues.All())
	}
	defer sources[0].Close()
	o, err := ingest.Read(context.Background(), sources[0], opt)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

func list(issues []issue.Issue) string {
	var b strings.Builder
	for k, i := range issues {
		if k == 12 {
			b.WriteString("\n\t…")
			break
		}
		b.WriteString("\n\t" + i.Severity.String() + " " + i.Error())
	}
	return b.String()
}

// TestBad reads every fixture: each must be refused, with the finding that its
// name says at the place that expected.csv says.
func TestBad(t *testing.T) {
	cases := readExpected(t)
	if len(cases) < 60 {
		t.Errorf("%d fixtures, want at least 60", len(cases))
	}
	for _, c := range cases {
		t.Run(c.fixture, func(t *testing.T) {
			o := readOnly(t, filepath.Join(badDir, c.fixture), ingest.Options{Workers: 2})
			if o.Dataset != nil {
				t.Errorf("accepted, want refused; findings:%s", list(o.Issues))
			}
			if !slices.ContainsFunc(o.Issues, func(i issue.Issue) bool {
				return i.Code == c.code && i.Severity == issue.Error && i.File == c.file && i.Row == c.row && i.Column == c.column && i.Message != ""
			}) {
				t.Errorf("no error %s at %s:%d [%s]; findings:%s", c.code, c.file, c.row, c.column, list(o.Issues))
			}
		})
	}
}
