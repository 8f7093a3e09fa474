package check

import (
	"slices"
	"strings"

	"sheetwash/analysis/experiment"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/rig"
)

// profiles finds the profile of a simulator; what is not profiled is under the
// documented default.
type profiles struct {
	rigs     []experiment.Rig
	standard experiment.Rig
}

func profilesOf(d *Draft) profiles { return profiles{d.Rigs, rig.Default()} }

func (p *profiles) of(simulator string) *experiment.Rig {
	if r := experiment.RigOf(p.rigs, simulator); r != nil {
		return r
	}
	return &p.standard
}

// ofRun returns the profile of a run; of a row that has none (-1) the general one.
func (p *profiles) ofRun(d *Draft, run int32) *experiment.Rig {
	if run < 0 {
		return p.of("")
	}
	return p.of(d.Runs.Column("simulator").Word(int(run)))
}

// coverSuits reports kinds of cover that the profile says do not suit the use
// of the land.
func coverSuits(d *Draft, into *issue.List) {
	p := profilesOf(d)
	f := d.Plots
	kind, use := f.Column("cover_kind"), f.Column("land_use")
	for i := range f.N {
		k, u := strings.ToLower(kind.Word(i)), strings.ToLower(use.Word(i))
		if k == "" || u == "" {
			continue
		}
		for _, rule := range p.ofRun(d, d.Links.RunOfPlot[i]).Cover {
			if names(u, rule.LandUse) && names(k, rule.Unsuited) {
				report(into, CoverUnsuited, f, i, "cover_kind", "a cover of %q does not suit the land use %q: check both, or list what suits in simulator.yaml", kind.Word(i), use.Word(i))
				break
			}
		}
	}
}

// names reports whether a text holds one of the words.
func names(text string, words []string) bool {
	return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(text, strings.ToLower(w)) })
}

// level reports runs that do not say that the table was levelled where the
// profile asks for it, and runs that say it was not.
func level(d *Draft, into *issue.List) {
	p := profilesOf(d)
	f := d.Runs
	c := f.Column("level_confirmed")
	for i := range f.N {
		switch {
		case c.Has(i) && !c.True(i):
			report(into, LevelNotConfirmed, f, i, "level_confirmed", "the table was not level: drainage and runoff of its plots are in doubt")
		case c.Is(i) == Absent && p.ofRun(d, int32(i)).ConfirmLevel:
			report(into, LevelNotConfirmed, f, i, "level_confirmed", "the run does not say that the table was levelled: look, and set level_confirmed to true")
		}
	}
}

// places reports simulators that the profiles do not name, and positions, slopes
// and plots that their profile has no place for.
func places(d *Draft, into *issue.List) {
	p := profilesOf(d)
	for i := range d.Runs.N {
		if w := d.Runs.Column("simulator").Word(i); len(d.Rigs) > 0 && experiment.RigOf(d.Rigs, w) == nil {
			report(into, ProfileNoSimulator, d.Runs, i, "simulator", "%s has no profile of the simulator %q: its pressure, supply and places are not judged", d.Rigs[0].Place.File, w)
		}
	}
	position, slope := d.Plots.Column("position"), d.Plots.Column("slope")
	under := map[int32]int{}
	for i := range d.Plots.N {
		run := d.Links.RunOfPlot[i]
		r := p.ofRun(d, run)
		if under[run]++; run >= 0 && r.Plots > 0 && under[run] == r.Plots+1 {
			report(into, PlotTooMany, d.Plots, i, "plot", "this is plot %d of its run, and the simulator's profile has places for %d: correct the run, or the profile", under[run], r.Plots)
		}
		unknownPosition(d.Plots, i, position, r, into)
		if v, ok := slope.Value(i); ok && len(r.SlopeClasses) > 0 && !inClass(v, r.SlopeClasses) {
			report(into, SlopeNoClass, d.Plots, i, "slope", "a slope of %s %% is in none of the classes of the profile: check it, or the classes", figure(100*v))
		}
	}
	position, simulator := d.Cans.Column("position"), d.Cans.Column("simulator")
	for i := range d.Cans.N {
		unknownPosition(d.Cans, i, position, p.of(simulator.Word(i)), into)
	}
}

func unknownPosition(f *Frame, i int, position *Column, r *experiment.Rig, into *issue.List) {
	if w := position.Word(i); w != "" && len(r.Positions) > 0 && !slices.Contains(r.Positions, w) {
		report(into, PositionUnknown, f, i, "position", "the simulator's profile has the positions %s: correct the position, or the profile", strings.Join(r.Positions, ", "))
	}
}

// inClass reports whether a slope is in one of the classes: lower bounds belong
// to a class, upper bounds to the next one, that of the last class to itself.
func inClass(slope float64, classes []experiment.SlopeClass) bool {
	const rounding = 1e-9
	last := classes[len(classes)-1]
	return slope >= classes[0].From-rounding && slope <= last.To+rounding
}
