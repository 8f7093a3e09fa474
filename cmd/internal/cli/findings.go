package cli

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"
	prettytext "github.com/jedib0t/go-pretty/v6/text"

	"sheetwash/analysis/result"
)

// firstErrors is how many errors are shown in full after the counts.
const firstErrors = 5

// severities from the worst to the mildest.
var severities = []string{"error", "warning", "note"}

// tally counts the findings of one code.
type tally struct {
	severity, code string
	n              int
}

// tallies counts findings by code, the worst first, then the most frequent.
func tallies(findings []result.Finding) []tally {
	var out []tally
	for _, f := range findings {
		i := slices.IndexFunc(out, func(t tally) bool { return t.code == f.Code && t.severity == f.Severity })
		if i < 0 {
			out = append(out, tally{f.Severity, f.Code, 1})
			continue
		}
		out[i].n++
	}
	slices.SortStableFunc(out, func(a, b tally) int {
		return cmp.Or(
			cmp.Compare(slices.Index(severities, a.severity), slices.Index(severities, b.severity)),
			cmp.Compare(b.n, a.n),
			cmp.Compare(a.code, b.code),
		)
	})
	return out
}

// printFindings tells what the checks found: counts by code, and the first
// errors with their places.
func printFindings(w io.Writer, findings []result.Finding, color bool) {
	printTallies(w, findings, color)
	shown := 0
	for _, f := range findings {
		if f.Severity != "error" {
			continue
		}
		if shown == firstErrors {
			fmt.Fprintf(w, "… %d errors in all; findings.csv and \"sheetwash check\" list them.\n", countOf(findings, "error"))
			break
		}
		fmt.Fprintln(w, wrap(place(f), 79, "  "))
		shown++
	}
}

// printTallies counts the findings by code.
func printTallies(w io.Writer, findings []result.Finding, color bool) {
	if len(findings) == 0 {
		fmt.Fprintln(w, "No findings.")
		return
	}
	t := table.NewWriter()
	style := table.StyleLight
	style.Options = table.Options{SeparateHeader: true}
	style.Box.PaddingLeft, style.Box.PaddingRight = "", "  "
	style.Format.Header = prettytext.FormatDefault
	t.SetStyle(style)
	t.AppendHeader(table.Row{"Count", "Severity", "Finding"})
	t.SetColumnConfigs([]table.ColumnConfig{{Number: 1, Align: prettytext.AlignRight}})
	for _, c := range tallies(findings) {
		t.AppendRow(table.Row{c.n, paint(c.severity, color), c.code})
	}
	fmt.Fprintln(w, trimLines(t.Render()))
}

// place writes a finding so that an editor can jump to it.
func place(f result.Finding) string {
	at := f.Dataset
	if f.File != "" && f.File != f.Dataset {
		at = strings.TrimPrefix(at+"/"+f.File, "/")
	}
	if f.Row > 0 {
		at += ":" + strconv.FormatInt(f.Row, 10)
	}
	if f.Column != "" {
		at += " [" + f.Column + "]"
	}
	return at + ": " + f.Message + " (" + f.Code + ")"
}

func countOf(findings []result.Finding, severity string) int {
	n := 0
	for _, f := range findings {
		if f.Severity == severity {
			n++
		}
	}
	return n
}

// paint colours a severity where colours are allowed.
func paint(severity string, color bool) string {
	if !color {
		return severity
	}
	switch severity {
	case "error":
		return prettytext.Colors{prettytext.FgRed, prettytext.Bold}.Sprint(severity)
	case "warning":
		return prettytext.Colors{prettytext.FgYellow}.Sprint(severity)
	}
	return severity
}
