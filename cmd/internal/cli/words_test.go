package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/api/report"
)

// The sentence of the contract: of 2.0 in of rain 1.2 in ran off.
func TestSentence(t *testing.T) {
	row := func(m result.Metric, mm float64) result.TreatmentRow {
		return result.TreatmentRow{Scope: "event:Pell Farm", Treatment: "potato ridges, bare", Metric: m, Headline: true, Value: quantity.Some(mm), Unit: "mm"}
	}
	a := &result.Analysis{Treatments: []result.TreatmentRow{row(result.RainDepth, 50.8), row(result.RunoffDepth, 30.48)}}
	us := newSummary(a, report.US, false)
	if got := us.sentences(); !strings.HasPrefix(got, "potato ridges, bare: of 2.0 in of rain 1.2 in ran off, 33,000 gallons per") {
		t.Errorf("US: %s", got)
	}
	if got := newSummary(a, report.SI, false).sentences(); !strings.HasPrefix(got, "potato ridges, bare: of 51 mm of rain 30 mm ran off, 30 litres per") {
		t.Errorf("SI: %s", got)
	}
	if got := us.title(); got != "Event Pell Farm" {
		t.Errorf("the title is %q", got)
	}
	a.Treatments[1].Value = quantity.None()
	if got := us.sentences(); got != "" {
		t.Errorf("without runoff: %q", got)
	}
}

// What a cell of the summary says of bounds and of what is missing.
func TestCell(t *testing.T) {
	s := &summary{units: report.SI}
	rate := result.TreatmentRow{Metric: result.SteadyInfiltrationRate, Unit: "mm/h", Value: quantity.Some(70)}
	for _, tt := range []struct {
		change func(*result.TreatmentRow)
		want   string
	}{
		{func(*result.TreatmentRow) {}, "70.0\n"},
		{func(r *result.TreatmentRow) { r.Low, r.High = quantity.Some(60), quantity.Some(81.25) }, "70.0\n60.0–81.2"},
		{func(r *result.TreatmentRow) { r.Low = quantity.Some(60) }, "70.0\nover 60.0"},
		{func(r *result.TreatmentRow) { r.High = quantity.Some(81) }, "70.0\nbelow 81.0"},
		{func(r *result.TreatmentRow) { r.Flags.Add("lower_bound") }, "≥ 70.0\n"},
		{func(r *result.TreatmentRow) { r.Flags.Add("upper_bound") }, "≤ 70.0\n"},
		{func(r *result.TreatmentRow) { r.Flags.Add("one_plot") }, "70.0\none plot"},
		{func(r *result.TreatmentRow) { r.Value = quantity.None(); r.Flags.Add("pending") }, "–\nin the oven"},
	} {
		r := rate
		tt.change(&r)
		if got := s.cell(r, true); got != tt.want {
			t.Errorf("%v: the cell is %q, want %q", r.Flags, got, tt.want)
		}
	}
	if got := s.cell(rate, false); got != "–\n" {
		t.Errorf("no row: %q", got)
	}
}

// Colours are there only when they are allowed.
func TestPaint(t *testing.T) {
	for _, severity := range severities {
		if got := paint(severity, false); got != severity {
			t.Errorf("without colour: %q", got)
		}
		if got := paint(severity, true); !strings.Contains(got, severity) || severity == "error" && got == severity {
			t.Errorf("with colour: %q", got)
		}
	}
	s := &streams{env: func(string) string { return "" }}
	if s.color(io.Discard) {
		t.Error("colours on what is no terminal")
	}
}

// Every error has its exit code.
func TestClassify(t *testing.T) {
	stopped, stop := context.WithCancelCause(t.Context())
	stop(fmt.Errorf("signal: %s", syscall.SIGTERM))
	for _, tt := range []struct {
		ctx  context.Context
		err  error
		want int
	}{
		{t.Context(), errors.New("a fault"), exitInternal},
		{t.Context(), usage(errors.New("x")), exitUsage},
		{t.Context(), fmt.Errorf("read: %w", &fs.PathError{Op: "open", Path: "x", Err: fs.ErrNotExist}), exitNotFound},
		{t.Context(), &fs.PathError{Op: "read", Path: "x", Err: syscall.EIO}, exitIO},
		{t.Context(), onDisk(errors.New("full")), exitIO},
		{t.Context(), conflict(errors.New("there")), exitConflict},
		{stopped, context.Canceled, exitTerminated},
	} {
		if got := classify(tt.ctx, tt.err); got.exit != tt.want || got.Error() == "" {
			t.Errorf("%v: exit %d, want %d", tt.err, got.exit, tt.want)
		}
	}
}

// A file whose writing fails leaves nothing behind, and the old one untouched.
func TestFailedWriteLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "fits.csv")
	write(t, name, "old\n")
	full := errors.New("no space")
	if _, err := prepare(name, func(w io.Writer) error {
		if _, err := w.Write(make([]byte, 1<<17)); err != nil {
			return err
		}
		return full
	}); !errors.Is(err, full) {
		t.Errorf("the error is %v", err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil || len(entries) != 1 {
		t.Errorf("the folder holds %d files, %v", len(entries), err)
	}
	if data, err := os.ReadFile(name); err != nil || string(data) != "old\n" {
		t.Errorf("the old file holds %q, %v", data, err)
	}
}
