package rig

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/ingest/issue"
)

// Open returns the bytes of a file beside the profile.
type Open func(name string) ([]byte, error)

// Parse reads a simulator.yaml. Its keys stand at the top for any simulator of
// the dataset, or below simulators and a simulator's name for that one. Each
// profile begins as Default; what the file names goes before it.
//
// Unknown keys, values that cannot be used and numbers without a unit are errors
// at their line. Profiles come in the order of the file, the general one first.
func Parse(data []byte, name string, open Open) ([]experiment.Rig, *issue.List) {
	p := &parser{file: name, open: open, into: &issue.List{}}
	var root yaml.Node
	if err := yaml.Unmarshal(data, &root); err != nil && !errors.Is(err, io.EOF) {
		p.fault(Syntax, yamlLine(err), "", "", "the file is not YAML: "+issue.Clip(err.Error()))
		return nil, p.into
	}
	if len(root.Content) == 0 || root.Content[0].Tag == "!!null" {
		return nil, p.into
	}
	return p.profiles(root.Content[0]), p.into
}

type parser struct {
	file string
	open Open
	into *issue.List
}

func (p *parser) fault(code issue.Code, line int, key, value, message string) {
	p.into.Add(issue.Issue{Code: code, Severity: issue.Error, File: p.file, Row: int64(line), Column: key, Value: issue.Clip(value), Message: message})
}

// profiles reads the general profile and those of named simulators.
func (p *parser) profiles(n *yaml.Node) []experiment.Rig {
	general, named := &yaml.Node{Kind: yaml.MappingNode, Line: n.Line}, (*yaml.Node)(nil)
	if n.Kind != yaml.MappingNode {
		p.fault(BadValue, n.Line, "", n.Value, "this must be a list of key: value lines")
		return nil
	}
	for k, v := range pairs(n) {
		if k.Value == "simulators" {
			named = v
		} else {
			general.Content = append(general.Content, k, v)
		}
	}
	var out []experiment.Rig
	if len(general.Content) > 0 {
		out = append(out, p.profile(general, "", Default()))
	}
	if named == nil {
		return out
	}
	if named.Kind != yaml.MappingNode {
		p.fault(BadValue, named.Line, "simulators", named.Value, "name each simulator on a line of its own, with its keys below it")
		return out
	}
	seen := map[string]bool{}
	for k, v := range pairs(named) {
		if k.Value == "" || seen[k.Value] {
			p.fault(BadValue, k.Line, "simulators", k.Value, "give each simulator a name of its own")
			continue
		}
		seen[k.Value] = true
		base := Default()
		if len(out) > 0 && out[0].Simulator == "" {
			base = out[0]
		}
		base.Simulator = k.Value
		out = append(out, p.profile(v, "simulators."+k.Value+".", base))
	}
	return out
}

// profile reads the keys of one simulator into a profile.
func (p *parser) profile(n *yaml.Node, prefix string, rig experiment.Rig) experiment.Rig {
	rig.Place = experiment.Place{File: p.file, Row: int64(n.Line)}
	p.keys(n, prefix, "", &rig)
	low, high := rig.PressureLow, rig.PressureHigh
	if low.OK && high.OK && low.V >= high.V {
		p.fault(BadValue, n.Line, prefix+"pressure", "", "the band of pressure must begin below its end")
	}
	if rig.TankL.OK && rig.HeelL.OK && rig.HeelL.V >= rig.TankL.V {
		p.fault(BadValue, n.Line, prefix+"tank", "", "the heel must be less than the tank holds")
	}
	if rig.NozzleKPa.OK && !rig.NozzleLMin.OK {
		p.fault(BadValue, n.Line, prefix+"nozzle", "", "give the flow of the nozzle at this pressure, or leave the pressure out")
	}
	return rig
}

// keys reads a mapping; below is the path within the profile.
func (p *parser) keys(n *yaml.Node, prefix, below string, rig *experiment.Rig) {
	if n.Kind != yaml.MappingNode {
		p.fault(BadValue, n.Line, strings.TrimSuffix(prefix+below, "."), n.Value, "this must be a list of key: value lines")
		return
	}
	for k, v := range pairs(n) {
		key := below + k.Value
		switch {
		case groups[key]:
			p.keys(v, prefix, key+".", rig)
		case numbers[key].put != nil:
			if x, ok := p.number(v, prefix+key, numbers[key]); ok {
				numbers[key].put(rig, x)
			}
		case lists[key] != nil:
			if why := lists[key](rig, v); why != "" {
				p.fault(BadValue, v.Line, prefix+key, v.Value, why)
			}
		case key == "drops":
			p.drops(v, prefix+key, rig)
		default:
			p.fault(UnknownKey, k.Line, prefix+key, "", "this key does not exist: use one of "+strings.Join(known(), ", "))
		}
	}
}

func known() []string {
	all := slices.Concat(slices.Collect(maps.Keys(numbers)), slices.Collect(maps.Keys(lists)), []string{"drops", "simulators"})
	slices.Sort(all)
	return all
}

// pairs goes through the keys and values of a mapping.
func pairs(n *yaml.Node) func(func(k, v *yaml.Node) bool) {
	return func(yield func(k, v *yaml.Node) bool) {
		for i := 0; i+1 < len(n.Content); i += 2 {
			v := n.Content[i+1]
			if v.Kind == yaml.AliasNode {
				v = v.Alias
			}
			if !yield(n.Content[i], v) {
				return
			}
		}
	}
}

// yamlLine returns the line that a YAML error names; 0 where it names none.
func yamlLine(err error) int {
	m := regexp.MustCompile(`line (\d+)`).FindStringSubmatch(err.Error())
	if m == nil {
		return 0
	}
	n, _ := strconv.Atoi(m[1])
	return n
}

// groups are the keys that hold keys.
var groups = map[string]bool{"nozzle": true, "pressure": true, "tank": true, "first_bottle": true}

// number is a number of the profile: its canonical unit, "" for a count, and bounds in it.
type number struct {
	unit      string
	low, high float64
	put       func(*experiment.Rig, float64)
}

var numbers = map[string]number{
	"nozzle.count":        {"", 1, 1000, func(r *experiment.Rig, v float64) { r.Nozzles = int(v) }},
	"nozzle.flow":         {"L/min", 1e-3, 1e4, func(r *experiment.Rig, v float64) { r.NozzleLMin = quantity.Some(v) }},
	"nozzle.at":           {"kPa", 0.1, 1e4, func(r *experiment.Rig, v float64) { r.NozzleKPa = quantity.Some(v) }},
	"nozzle.speed":        {"m/s", 0, 100, func(r *experiment.Rig, v float64) { r.NozzleSpeedMS = quantity.Some(v) }},
	"pressure.from":       {"kPa", 0, 1e4, func(r *experiment.Rig, v float64) { r.PressureLow = quantity.Some(v) }},
	"pressure.to":         {"kPa", 0, 1e4, func(r *experiment.Rig, v float64) { r.PressureHigh = quantity.Some(v) }},
	"fall_height":         {"m", 0.01, 100, func(r *experiment.Rig, v float64) { r.FallHeightM = quantity.Some(v) }},
	"tray_share":          {"1", 0, 1, func(r *experiment.Rig, v float64) { r.TrayShare = quantity.Some(v) }},
	"tank.volume":         {"L", 0.1, 1e6, func(r *experiment.Rig, v float64) { r.TankL = quantity.Some(v) }},
	"tank.heel":           {"L", 0, 1e6, func(r *experiment.Rig, v float64) { r.HeelL = quantity.Some(v) }},
	"plots":               {"", 1, 1e4, func(r *experiment.Rig, v float64) { r.Plots = int(v) }},
	"energy_uncertainty":  {"1", 0, 1, func(r *experiment.Rig, v float64) { r.UEnergyRel = quantity.Some(v) }},
	"repeatability":       {"1", 0, 1, func(r *experiment.Rig, v float64) { r.RepeatabilityRel = quantity.Some(v) }},
	"first_bottle.within": {"min", 0, 600, func(r *experiment.Rig, v float64) { r.FirstBottle.WithinMin = quantity.Some(v) }},
	"first_bottle.share":  {"1", 0, 1, func(r *experiment.Rig, v float64) { r.FirstBottle.Share = quantity.Some(v) }},
}

// number reads a number with its unit. A count has none.
func (p *parser) number(n *yaml.Node, key string, s number) (float64, bool) {
	v, why := quantityOf(n.Value, s.unit)
	switch {
	case n.Kind != yaml.ScalarNode:
		why = "one number is wanted"
	case why == "" && !(v >= s.low && v <= s.high):
		why = fmt.Sprintf("it must lie between %g and %g %s", s.low, s.high, s.unit)
	case why == "" && s.unit == "" && v != float64(int(v)):
		why = "a whole number is wanted"
	}
	if why != "" {
		p.fault(BadValue, n.Line, key, n.Value, why)
		return 0, false
	}
	return v, true
}
