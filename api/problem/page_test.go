package problem_test

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"

	"sheetwash/api/problem"
)

var update = flag.Bool("update", false, "write docs/errors.md anew")

const head = `# Errors of the service

Every error is answered as ` + "`application/problem+json`" + ` (RFC 9457), also where CSV or Arrow was asked for: ` + "`type`" + ` (this page), ` + "`title`, `status`,\n`detail`, `instance`" + `,
and with them ` + "`code`" + ` (stable: the heading below), ` + "`request_id`" + ` (tell it to the operator) and ` + "`retryable`" + ` (the same request may succeed
later). ` + "`data_rejected`" + ` carries the first 100 ` + "`findings`" + ` and ` + "`findings_total`" + `. Answers with status 429 and 503 carry ` + "`Retry-After`" + `.

The running service shows this page at ` + "`/docs/errors`" + ` and the same table as data at ` + "`/v1/error-codes`" + `.
A test compares it with the code.
`

func section(k problem.Kind) string {
	retry := "no"
	if k.Retryable {
		retry = "yes"
	}
	return fmt.Sprintf("## %s\n\n%s. Status %d; the same request may succeed later: %s.\n\n- When: %s.\n- What to do: %s.\n",
		k.Code, k.Title, k.Status, retry, k.Meaning, k.Remedy)
}

// The page is what the table makes.
func TestPage(t *testing.T) {
	var b strings.Builder
	b.WriteString(head)
	for _, k := range problem.Kinds() {
		b.WriteString("\n" + section(k))
	}
	const path = "../../docs/errors.md"
	if *update {
		if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	have, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if string(have) != b.String() {
		t.Error("docs/errors.md differs from the table of codes; go test ./api/problem -update writes it anew")
	}
}
