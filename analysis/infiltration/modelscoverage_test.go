package infiltration_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"golang.org/x/sync/errgroup"

	"sheetwash/analysis/analysistest"
	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/result"
	"sheetwash/analysis/simulate"
)

var (
	cellDraws = flag.Int("study.draws", 20, "plots a cell of the study of the models")
	known     = flag.Int("study.known", 20, "the same with the intensity known exactly")
	picture   = flag.String("picture", "", "file that the study of the models draws its results in, as SVG")
)

// formsOfStudy are the columns of the study: the headline, the average, the sorptivity, and
// every form by itself.
func formsOfStudy() []string {
	return []string{
		"headline", infiltration.ModelAverage, "sorptivity",
		infiltration.ConstantRate, infiltration.HortonPonding, infiltration.PhilipTwoTerm, infiltration.GreenAmptModel,
		infiltration.KostiakovModel, infiltration.KostiakovLewisModel, infiltration.SmithParlangeModel,
	}
}

// share is how often the intervals of a column held the truth, and how often there was none.
type share struct {
	held, below, n, without int
	widths                  []float64
}

func (s *share) add(e *result.Estimate, truth, unit float64) {
	if !e.Value.OK || !e.Low.OK || !e.High.OK {
		s.without++
		return
	}
	s.n++
	s.widths = append(s.widths, (e.High.V-e.Low.V)/unit)
	switch {
	case truth < e.Low.V:
		s.below++
	case truth <= e.High.V:
		s.held++
	}
}

func (s *share) percent() float64 { return 100 * float64(s.held) / float64(max(1, s.n)) }

func (s *share) declined() float64 { return 100 * float64(s.without) / float64(max(1, s.n+s.without)) }

// together adds up the shares of the parts of a cell.
func together(parts []map[string]*share) map[string]*share {
	all := map[string]*share{}
	for _, name := range formsOfStudy() {
		all[name] = &share{}
		for _, p := range parts {
			s, a := p[name], all[name]
			a.held, a.below, a.n, a.without = a.held+s.held, a.below+s.below, a.n+s.n, a.without+s.without
			a.widths = append(a.widths, s.widths...)
		}
	}
	return all
}

// studyCell runs draws of plots that ran off through the headline and all models. The same seed
// gives the same cell on any number of processors.
func studyCell(c conditions, n int, seed uint64) map[string]*share {
	const parts = 8
	out := make([]map[string]*share, parts)
	var g errgroup.Group
	g.SetLimit(2)
	for part := range parts {
		g.Go(func() error {
			r := rand.New(rand.NewPCG(seed, uint64(part)))
			cell := map[string]*share{}
			for _, name := range formsOfStudy() {
				cell[name] = &share{}
			}
			for drawn := part; drawn < n; {
				d := newDraw(r, c)
				if !d.truth.OnsetMin.OK {
					continue
				}
				drawn += parts
				a := infiltration.Steady(d.in)
				headline := &a.Horton
				if a.Headline == infiltration.FinalWindow {
					headline = &a.Window
				}
				cell["headline"].add(headline, d.truth.CapacityMMH, limitOf(&d))
				m := infiltration.Models(d.in)
				for _, p := range m.Rows() {
					if p.Name == infiltration.CapacityAtEnd {
						cell[p.Model].add(&result.Estimate{Value: p.Value, Low: p.Low, High: p.High}, d.truth.CapacityMMH, limitOf(&d))
					}
				}
				if d.sorptivity > 0 {
					cell["sorptivity"].add(&m.Sorptivity, d.sorptivity, d.sorptivity)
				}
			}
			out[part] = cell
			return nil
		})
	}
	_ = g.Wait() // no part fails
	return together(out)
}

// TestModelsCoverage is the study of the steady rate in docs/coverage.md: plots that ran off, of
// every soil and number of bottles, each soil fitted by each form. Nominal 95 % intervals of the
// headline, of the average and of the sorptivity have to hold the truth in 93 of 100, less four standard
// errors of the draws. Those of single forms are the average's, of the plots that do not exclude the form.
func TestModelsCoverage(t *testing.T) {
	var points []analysistest.Covered
	values, forms := formsOfStudy()[:3], formsOfStudy()[3:]
	for part, intensityRel := range []float64{0.03, 0} {
		n := []int{*cellDraws, *known}[part]
		var table, matrix strings.Builder
		for _, soil := range []string{hortonSoil, greenAmptSoil, smithParlangeSoil, philipSoil} {
			for _, bottles := range []int{6, 8, 12, 20, 30} {
				cell := studyCell(conditions{instruments: simulate.FieldInstruments(), intensityRel: intensityRel, soil: soil, bottles: bottles}, n, *seed)
				fmt.Fprintf(&table, "| %s | %d |", soil, bottles)
				fmt.Fprintf(&matrix, "| %s | %d |", soil, bottles)
				for _, name := range values {
					s := cell[name]
					if s.n+s.without == 0 { // the sorptivity of another soil
						fmt.Fprint(&table, " |")
						continue
					}
					fmt.Fprintf(&table, " %.1f (%.1f; %.2f) |", s.percent(), s.declined(), quantileOf(s.widths, 0.5))
					row := fmt.Sprintf("%s, %s, intensity to %.0f %%", name, soil, 100*intensityRel)
					points = append(points, analysistest.Covered{Row: row, Size: bottles, Percent: s.percent()})
					if least := 93 - 400*0.255/math.Sqrt(float64(s.n)); s.n > 50 && s.percent() < least {
						t.Errorf("%s, %d bottles, intensity to %v: %s holds the truth in %.1f %% of %d", soil, bottles, intensityRel, name, s.percent(), s.n)
					}
				}
				for _, name := range forms {
					if cell[name].n == 0 {
						fmt.Fprintf(&matrix, " (%.0f) |", cell[name].declined())
						continue
					}
					fmt.Fprintf(&matrix, " %.1f (%.0f) |", cell[name].percent(), cell[name].declined())
				}
				fmt.Fprintln(&table)
				fmt.Fprintln(&matrix)
			}
		}
		head := func(columns []string) string {
			return "| soil | bottles | " + strings.Join(columns, " | ") + " |\n| --- | --- |" + strings.Repeat(" --- |", len(columns))
		}
		t.Logf("intensity to %v, %d draws a cell, seed %d\n%s\n%s\n%s\n%s", intensityRel, n, *seed, head(values), table.String(), head(forms), matrix.String())
	}
	if *picture != "" {
		if err := os.WriteFile(*picture, analysistest.CoveragePicture("6, 8, 12, 20, 30 bottles", points), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
