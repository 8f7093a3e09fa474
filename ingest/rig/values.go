package rig

import (
	"fmt"
	"strings"

	"go.yaml.in/yaml/v3"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/ingest/units"
)

// quantityOf reads a number and its unit, such as 6 psi or 20 %, into a
// canonical unit; why says what is wrong with it. A share may stand without a
// unit, a count must.
func quantityOf(text, unit string) (v float64, why string) {
	text = strings.TrimSpace(text)
	end := strings.IndexFunc(text, func(r rune) bool { return !strings.ContainsRune("0123456789.+-", r) })
	if end < 0 {
		end = len(text)
	}
	v, err := units.Number(text[:end], false)
	if err != nil {
		return 0, "a number with its unit is wanted, such as 41 kPa"
	}
	spelling := strings.TrimSpace(text[end:])
	switch {
	case spelling == "" && (unit == "" || unit == "1"):
		return v, ""
	case spelling == "":
		return 0, "the number has no unit: write it with one, such as " + fmt.Sprintf("%g %s", v, unit)
	case unit == "":
		return 0, "a count has no unit"
	}
	canonical := quantity.MustParse(unit)
	u, err := units.Resolve(spelling, canonical.Dimension())
	if err != nil {
		return 0, fmt.Sprintf("%q is no unit of this quantity: write it in %s", spelling, unit)
	}
	v, err = u.Unit.ConvertTo(v, canonical)
	if err != nil {
		return 0, fmt.Sprintf("%q cannot be taken to %s", spelling, unit)
	}
	return v, ""
}

// lists are the keys that hold words, or lists of them.
var lists = map[string]func(*experiment.Rig, *yaml.Node) (why string){
	"positions": func(r *experiment.Rig, n *yaml.Node) (why string) {
		r.Positions, why = words(n)
		return why
	},
	"confirm_level": func(r *experiment.Rig, n *yaml.Node) (why string) {
		if n.Decode(&r.ConfirmLevel) != nil {
			return "true or false is wanted"
		}
		return ""
	},
	"slope_classes": slopeClasses,
	"cover":         cover,
}

func words(n *yaml.Node) ([]string, string) {
	var out []string
	if n.Kind != yaml.SequenceNode || n.Decode(&out) != nil {
		return nil, "a list of words is wanted, such as [P1, P2]"
	}
	return out, ""
}

// slopeClasses reads classes such as 1-3 %, ascending and without gaps between them.
func slopeClasses(r *experiment.Rig, n *yaml.Node) (why string) {
	names, why := words(n)
	if why != "" {
		return why
	}
	r.SlopeClasses = nil
	for _, name := range names {
		low, rest, ok := strings.Cut(name, "-")
		high, percent := strings.CutSuffix(strings.TrimSpace(rest), "%")
		from, err := units.Number(low, false)
		to, errTo := units.Number(high, false)
		if !ok || !percent || err != nil || errTo != nil || !(from >= 0 && to > from) {
			return fmt.Sprintf("%q is no class of slope: write it as 1-3 %%", name)
		}
		if k := len(r.SlopeClasses); k > 0 && r.SlopeClasses[k-1].To != from/100 {
			return fmt.Sprintf("class %q does not begin where the one before it ends", name)
		}
		r.SlopeClasses = append(r.SlopeClasses, experiment.SlopeClass{Name: name, From: from / 100, To: to / 100})
	}
	return ""
}

// cover reads which kinds of cover do not suit which use of the land. What the
// file lists stands in place of the default.
func cover(r *experiment.Rig, n *yaml.Node) (why string) {
	if n.Kind != yaml.SequenceNode {
		return "a list is wanted, each with land_use and unsuited"
	}
	r.Cover = nil
	for _, item := range n.Content {
		var rule experiment.CoverRule
		for k, v := range pairs(item) {
			switch k.Value {
			case "land_use":
				rule.LandUse, why = words(v)
			case "unsuited":
				rule.Unsuited, why = words(v)
			default:
				why = fmt.Sprintf("%q does not exist here: write land_use and unsuited", k.Value)
			}
			if why != "" {
				return why
			}
		}
		if len(rule.LandUse) == 0 || len(rule.Unsuited) == 0 {
			return "each rule needs land_use and unsuited"
		}
		r.Cover = append(r.Cover, rule)
	}
	return ""
}
