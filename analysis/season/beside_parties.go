package season

import (
	"sheetwash/analysis/inference"
	"sheetwash/analysis/result"
)

// parties are those whose differences are stated: crews or simulators.
type parties struct {
	word string
	of   func(eventAbout) party
	flag string
}

var (
	crews      = parties{"crew", func(a eventAbout) party { return a.crew }, FlagBetweenCrews}
	simulators = parties{"simulator", func(a eventAbout) party { return a.simulator }, FlagBetweenSimulators}
)

// parties states how the plots of crews, or under simulators, differ at the same treatments: events are
// their replicates, so that places that differ are in the interval.
func (m *family) parties(f frame, of parties) []result.ComparisonRow {
	names := m.partyNames(of)
	if len(names) < 2 || len(names) > mostAllPairs {
		return nil
	}
	d := m.model(func(e int) string { return of.of(m.about[e]).known() })
	fit, err := inference.MixedEvents(d.cells, d.within)
	var out []result.ComparisonRow
	for i := range names {
		for j := range i {
			o := outcome{method: "mixed_reml_satterthwaite", ratio: d.logs}
			x, y := d.party(names[i]), d.party(names[j])
			switch {
			case err != nil:
				o.flags.Add(inference.FlagNotDefined)
			case fit.Flags.Has(inference.FlagNotDefined), d.events <= len(d.parties):
				// With one event for each party nothing tells parties from the days they had.
				o.flags.Add(inference.FlagNotDefined, FlagConfounded)
			case fit.Flags.Has(inference.FlagNSmall) || fit.Flags.Has(inference.FlagNotConverged) || x < -1 || y < -1:
				o.flags.Add(fit.Flags...)
				o.flags.Add(inference.FlagNSmall)
			default:
				l := make([]float64, d.columns)
				if x >= 0 {
					l[x] = 1
				}
				if y >= 0 {
					l[y] = -1
				}
				c := fit.Contrast(l, f.level)
				o.take(c)
				o.flags.Add(fit.Flags...)
				if c.DF.OK && c.DF.V < 3 {
					o.flags.Add(inference.FlagNSmall)
				}
			}
			d.saysLeftOut(&o)
			if of.word == "crew" && m.oneEach() {
				o.flags.Add(FlagConfounded)
			}
			r := m.row(f, side{label: of.word + ":" + names[i]}, side{label: of.word + ":" + names[j]}, o)
			r.Flags.Add(of.flag)
			out = append(out, r)
		}
	}
	return out
}

// partyNames lists the names in the order of their events.
func (m *family) partyNames(of parties) []string {
	var names []string
	seen := map[string]bool{"": true}
	for _, a := range m.about {
		if n := of.of(a).known(); !seen[n] {
			seen[n] = true
			names = append(names, n)
		}
	}
	return names
}

// oneEach reports whether every crew had a simulator of its own, so that the two
// cannot be told apart.
func (m *family) oneEach() bool {
	of, back := map[string]string{}, map[string]string{}
	for _, a := range m.about {
		c, s := a.crew.known(), a.simulator.known()
		if c == "" || s == "" {
			continue
		}
		if t, ok := of[c]; ok && t != s {
			return false
		}
		if t, ok := back[s]; ok && t != c {
			return false
		}
		of[c], back[s] = s, c
	}
	return len(of) > 1
}
