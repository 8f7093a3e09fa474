package rscript_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"sheetwash/analysis"
	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/analysis/season"
	"sheetwash/api/batch"
	"sheetwash/api/report"
	"sheetwash/api/report/rscript"
	"sheetwash/ingest"
	"sheetwash/ingest/columnar"
)

// Parquet is decoded by a child process, which is this program again.
func TestMain(m *testing.M) {
	columnar.ChildMain()
	os.Exit(m.Run())
}

// demoSeason analyses the demo season, or some of its field days by their numbers.
func demoSeason(t *testing.T, days ...string) *result.Analysis {
	t.Helper()
	ctx := context.Background()
	q := batch.Request{Workers: 2}
	paths := []string{"../../../testdata/demo-season"}
	if len(days) > 0 {
		paths = nil
	}
	for _, day := range days {
		found, err := filepath.Glob("../../../testdata/demo-season/" + day + "-*")
		if err != nil || len(found) != 1 {
			t.Fatalf("field day %s: %v %v", day, found, err)
		}
		paths = append(paths, found...)
	}
	all, err := q.ReadSeason(ctx, paths, ingest.FindOptions{}, func(int, int) {})
	if err != nil {
		t.Fatal(err)
	}
	calibrations := batch.Calibrations(all.Datasets)
	var parts []analysis.Part
	for i := range all.Datasets {
		if d := &all.Datasets[i]; !d.Stands() {
			t.Fatalf("%s is refused: %v", d.Name, d.Findings)
		}
		p, err := q.Analyse(ctx, &all.Datasets[i], calibrations)
		if err != nil {
			t.Fatal(err)
		}
		parts = append(parts, p)
	}
	a, err := q.Fold(parts, all.Findings())
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// rscriptOf finds R, without which nothing gives a second opinion.
func rscriptOf(t *testing.T) string {
	t.Helper()
	r, err := exec.LookPath("Rscript")
	if err != nil {
		if os.Getenv("SHEETWASH_REQUIRE_R") == "1" {
			t.Fatal("Rscript is required here and not installed")
		}
		t.Skip("Rscript is not installed: nothing gives a second opinion here")
	}
	return r
}

// R computes the treatment results and comparisons of the demo season again, from
// its exported plots, to a millionth; and those of a few of its days, where a treatment has one
// event with values (1 and 9), each crew one day (1 and 3), or plots hardly differ (5 to 7).
func TestSecondOpinion(t *testing.T) {
	r := rscriptOf(t)
	folder := t.TempDir()
	if other := os.Getenv("SHEETWASH_R_FOLDER"); other != "" {
		folder = other // keep what R wrote
	}
	for _, days := range [][]string{nil, {"01", "09"}, {"01", "03"}, {"05", "06", "07"}} {
		t.Run("days "+strings.Join(days, " "), func(t *testing.T) {
			secondOpinion(t, r, filepath.Join(folder, strings.Join(days, "-")), demoSeason(t, days...))
		})
	}
}

// The same where runs of several days stand on one body of soil: of pairs of days, and of all.
func TestSecondOpinionOnSharedSoil(t *testing.T) {
	r := rscriptOf(t)
	for name, together := range map[string]int{"pairs": 2, "all": 100} {
		t.Run(name, func(t *testing.T) {
			a := demoSeason(t, "01", "03", "05")
			days := map[string]int{}
			subjects := map[*result.Subject]*result.Subject{}
			for i := range a.Plots {
				s := a.Plots[i].Subject
				if subjects[s] == nil {
					if _, ok := days[s.Event]; !ok {
						days[s.Event] = len(days)
					}
					shared := *s
					shared.ExperimentalUnit = fmt.Sprint(s.Treatment, s.Sequence, s.Plot, days[s.Event]/together)
					subjects[s] = &shared
				}
				a.Plots[i].Subject = subjects[s]
			}
			var err error
			if a.Treatments, a.Comparisons, err = season.Summarise(a.Plots, season.Settings{Level: 0.95, Workers: 2}); err != nil {
				t.Fatal(err)
			}
			secondOpinion(t, r, t.TempDir(), a)
		})
	}
}

func secondOpinion(t *testing.T, r, folder string, a *result.Analysis) {
	if err := os.MkdirAll(folder, 0o700); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{result.TablePlots, result.TableTreatments, result.TableComparisons} {
		var b bytes.Buffer
		if err := report.Write(&b, a, name, report.Options{Format: report.CSV}); err != nil {
			t.Fatal(err)
		}
		write(t, filepath.Join(folder, name+".csv"), b.Bytes())
	}
	var script bytes.Buffer
	if err := rscript.Write(&script, a, 0.95); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(folder, rscript.FileName), script.Bytes())
	c := exec.CommandContext(t.Context(), r, "--vanilla", rscript.FileName)
	c.Dir = folder
	out, err := c.CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	t.Logf("%s", out)
	compare(t, filepath.Join(folder, "second_opinion.csv"), a)
}

func write(t *testing.T, path string, b []byte) {
	t.Helper()
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
}

// compare holds both answers of every row together and counts the rows.
func compare(t *testing.T, path string, a *result.Analysis) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	at := map[string]int{}
	for i, n := range rows[0] {
		at[n] = i
	}
	count, wrong := map[string]int{}, 0
	for _, row := range rows[1:] {
		count[row[at["table"]]]++
		for _, c := range []string{"value", "low", "high", "p"} {
			ours, okOurs := parse(row[at[c]])
			theirs, okTheirs := parse(row[at["r_"+c]])
			if !okOurs {
				continue // limits that are withheld
			}
			if !okTheirs {
				theirs = math.NaN()
			}
			const tolerance = 1e-6
			if !(math.Abs(ours-theirs) <= tolerance*math.Max(1e-3, math.Max(math.Abs(ours), math.Abs(theirs)))) {
				if wrong++; wrong <= 20 {
					t.Errorf("%s %s %s %s %s: %s is %v, R has %v (%s)", row[at["table"]], row[at["scope"]], row[at["treatment"]],
						row[at["metric"]], row[at["other"]], c, ours, theirs, row[at["method"]])
				}
			}
		}
	}
	if wrong > 0 {
		t.Errorf("%d numbers differ", wrong)
	}
	var treatments, comparisons int
	for _, r := range a.Treatments {
		if r.Value.OK {
			treatments++
		}
	}
	for _, r := range a.Comparisons {
		if r.Value.OK {
			comparisons++
		}
	}
	if count["treatment_results"] != treatments || count["comparisons"] != comparisons {
		t.Errorf("%v rows computed again, of %d and %d with a value", count, treatments, comparisons)
	}
}

func parse(s string) (float64, bool) {
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil && !math.IsNaN(v)
}

// The script is a pure function of the analysis, and text in names cannot end its tables.
func TestScriptOfNames(t *testing.T) {
	a := &result.Analysis{Plots: []result.PlotRow{{
		Subject: &result.Subject{Dataset: `a)-"b`, Event: "e", Run: "r", Plot: "1", Treatment: `bare, "dry" 'x'`},
		Metric:  result.SoilLoss, Method: "m", Headline: true,
		Estimate: result.Estimate{Value: quantity.Some(3), U: quantity.Some(1), UShared: quantity.Some(0.5)},
	}}}
	var one, two bytes.Buffer
	if err := rscript.Write(&one, a, 0.9); err != nil {
		t.Fatal(err)
	}
	if err := rscript.Write(&two, a, 0.9); err != nil {
		t.Fatal(err)
	}
	if one.String() != two.String() {
		t.Error("two writings differ")
	}
	for _, want := range []string{"level <- 0.9\n", `r"--(dataset,run,plot,scope,season,label,soil,crew,simulator,day`, `)--"`, "0.5"} {
		if !strings.Contains(one.String(), want) {
			t.Errorf("the script lacks %q", want)
		}
	}
}
