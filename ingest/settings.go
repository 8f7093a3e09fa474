package ingest

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/ingest/issue"
)

// Settings is what a dataset's analysis.yaml asks for. What it does not name is
// missing, and the analysis takes its own default. docs/formats.md lists the keys.
type Settings struct {
	Level          quantity.Optional // confidence level of intervals, 0.5 to 0.999
	ThresholdShare quantity.Optional // runoff rate that counts as its start, share of the intensity
	SmoothingMin   quantity.Optional // window of slopes of logger channels, min
	FinalMin       quantity.Optional // final window of the steady rate, min
	LeastPeakMin   quantity.Optional // shortest interval that counts as a peak, min
	SteadyShare    quantity.Optional // fall over the final window that is still steady, share of the rate
	BareCoverPct   quantity.Optional // cover up to which soil is bare, %
	LowQuarter     string            // convention where a quarter of the cans is not a whole number: fractional, round, floor, ceil; "": not given
	Reference      string            // treatment that others are compared with; "": not given
	Zone           *time.Location    // of stamps without an offset; nil: not given
}

// A setting is a number of analysis.yaml with its bounds.
type setting struct {
	low, high float64
	put       func(*Settings, *experiment.ErrorModel, float64)
}

// settingKeys are the numbers of analysis.yaml, by path, beside those of
// uncertainties.
var settingKeys = map[string]setting{
	"level":           {0.80, 0.99, func(s *Settings, _ *experiment.ErrorModel, v float64) { s.Level = quantity.Some(v) }},
	"threshold_share": {0.001, 0.5, func(s *Settings, _ *experiment.ErrorModel, v float64) { s.ThresholdShare = quantity.Some(v) }},
	"smoothing_s":     {1, 3600, func(s *Settings, _ *experiment.ErrorModel, v float64) { s.SmoothingMin = quantity.Some(v / 60) }},
	"final_min":       {0.5, 600, func(s *Settings, _ *experiment.ErrorModel, v float64) { s.FinalMin = quantity.Some(v) }},
	"least_peak_s":    {0, 3600, func(s *Settings, _ *experiment.ErrorModel, v float64) { s.LeastPeakMin = quantity.Some(v / 60) }},
	"steady_share":    {0.001, 1, func(s *Settings, _ *experiment.ErrorModel, v float64) { s.SteadyShare = quantity.Some(v) }},
	"bare_cover_pct":  {0, 100, func(s *Settings, _ *experiment.ErrorModel, v float64) { s.BareCoverPct = quantity.Some(v) }},
}

// settingOf returns the setting of a path. Those below errors are standard
// uncertainties.
func settingOf(key string) (setting, bool) {
	name, isError := strings.CutPrefix(key, "errors.")
	if !isError {
		s, ok := settingKeys[key]
		return s, ok
	}
	for _, u := range experiment.Uncertainties() {
		if u.Name == name {
			return setting{0, u.Most, func(_ *Settings, e *experiment.ErrorModel, v float64) { *u.Of(e) = v * u.Scale }}, true
		}
	}
	return setting{}, false
}

// knownSettings lists the keys of analysis.yaml.
func knownSettings() []string {
	all := append(slices.Collect(maps.Keys(settingKeys)), slices.Collect(maps.Keys(wordKeys))...)
	for _, u := range experiment.Uncertainties() {
		all = append(all, "errors."+u.Name)
	}
	slices.Sort(all)
	return all
}

// parseSettings reads an analysis.yaml. Unknown keys and values out of bounds
// are errors at their line.
func parseSettings(data []byte, name string, into *issue.List) (Settings, experiment.ErrorModel) {
	p := settingsParser{file: name, into: into, errors: experiment.DefaultErrors()}
	var root yaml.Node
	if err := yaml.Unmarshal(data, &root); err != nil && !errors.Is(err, io.EOF) {
		p.fault(SettingsSyntax, yamlLine(err), "", "", "the file is not YAML: "+issue.Clip(err.Error()))
		return p.settings, p.errors
	}
	if len(root.Content) > 0 && root.Content[0].Tag != "!!null" {
		p.mapping(root.Content[0], "")
	}
	return p.settings, p.errors
}

type settingsParser struct {
	file     string
	into     *issue.List
	settings Settings
	errors   experiment.ErrorModel
}

func (p *settingsParser) fault(code issue.Code, line int, key, value, message string) {
	p.into.Add(issue.Issue{Code: code, Severity: severityOf(code), File: p.file, Row: int64(line), Column: key, Value: value, Message: message})
}

func (p *settingsParser) mapping(n *yaml.Node, prefix string) {
	if n.Kind != yaml.MappingNode {
		p.fault(SettingsValue, n.Line, strings.TrimSuffix(prefix, "."), n.Value, "this must be a list of key: value lines")
		return
	}
	for i := 0; i+1 < len(n.Content); i += 2 {
		key, value := prefix+n.Content[i].Value, n.Content[i+1]
		switch {
		case key == "errors":
			p.mapping(value, "errors.")
		case wordKeys[key] != nil:
			if why := wordKeys[key](&p.settings, value.Value); why != "" {
				p.fault(SettingsValue, value.Line, key, value.Value, why)
			}
		default:
			p.number(key, n.Content[i].Line, value)
		}
	}
}

func (p *settingsParser) number(key string, line int, n *yaml.Node) {
	s, known := settingOf(key)
	if !known {
		p.fault(SettingsUnknown, line, key, "", "this key does not exist: use one of "+strings.Join(knownSettings(), ", "))
		return
	}
	v, err := strconv.ParseFloat(n.Value, 64)
	if err != nil || n.Kind != yaml.ScalarNode || math.IsNaN(v) || v < s.low || v > s.high {
		p.fault(SettingsValue, n.Line, key, n.Value, fmt.Sprintf("%s must be a number from %g to %g", key, s.low, s.high))
		return
	}
	s.put(&p.settings, &p.errors, v)
}

// longestReference is how many bytes the name of a treatment may have here.
const longestReference = 400

// wordKeys are the words of analysis.yaml. They say what is wrong with a value.
var wordKeys = map[string]func(*Settings, string) (why string){
	"timezone": func(s *Settings, word string) string {
		loc, err := time.LoadLocation(word)
		if err != nil || word == "" || word == "Local" {
			return "timezone must be a name such as Europe/Dublin"
		}
		s.Zone = loc
		return ""
	},
	"reference": func(s *Settings, word string) string {
		if word == "" || len(word) > longestReference {
			return "reference must be the name of a treatment"
		}
		s.Reference = word
		return ""
	},
	"low_quarter": func(s *Settings, word string) string {
		if !slices.Contains([]string{"fractional", "round", "floor", "ceil"}, word) {
			return "low_quarter must be fractional, round, floor or ceil"
		}
		s.LowQuarter = word
		return ""
	},
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
