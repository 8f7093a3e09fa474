package rig_test

import (
	"errors"
	"math"
	"os"
	"strings"
	"testing"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/rig"
)

func nothing(string) ([]byte, error) { return nil, errors.New("no such file") }

// The example of docs/formats.md, by hand: 1 psi is 6.894757 kPa and 1 US gallon
// 3.785412 L (NIST SP 811).
func TestExampleOfThePage(t *testing.T) {
	page, err := os.ReadFile("../../docs/formats.md")
	if err != nil {
		t.Fatal(err)
	}
	_, text, _ := strings.Cut(string(page), "## 6. simulator.yaml")
	_, text, _ = strings.Cut(text, "```yaml\n")
	text, _, _ = strings.Cut(text, "```")
	rigs, issues := rig.Parse([]byte(text), "simulator.yaml", nothing)
	if len(issues.All()) > 0 || len(rigs) != 1 {
		t.Fatalf("%d profiles, %v", len(rigs), issues.All())
	}
	r := rigs[0]
	for _, tt := range []struct {
		name      string
		got, want float64
	}{
		{"pressure from", r.PressureLow.V, 41.36854}, {"pressure to", r.PressureHigh.V, 55.15806}, {"nozzle at", r.NozzleKPa.V, 48.26330},
		{"flow", r.NozzleLMin.V, 14}, {"height", r.FallHeightM.V, 3}, {"tray share", r.TrayShare.V, 0.45}, {"tank", r.TankL.V, 227.1247},
		{"heel", r.HeelL.V, 18.92706}, {"plots", float64(r.Plots), 5}, {"within", r.FirstBottle.WithinMin.V, 0.5},
		{"share", r.FirstBottle.Share.V, 0.2}, {"last class", r.SlopeClasses[5].To, 0.15}, {"drops", r.Drops.Classes[1].Value, 530}, {"u", r.UEnergyRel.V, 0.05},
	} {
		if math.Abs(tt.got-tt.want) > 1e-6*(1+tt.want) {
			t.Errorf("%s: %v, want %v", tt.name, tt.got, tt.want)
		}
	}
	if r.Simulator != "trailer-1" || !r.ConfirmLevel || len(r.Positions) != 5 || len(r.SlopeClasses) != 6 || len(r.Cover) != 1 || r.Drops.Concentration {
		t.Errorf("profile %+v", r)
	}
}

// A named simulator begins as the general profile, which begins as the default.
func TestProfilesBuildOnOneAnother(t *testing.T) {
	rigs, issues := rig.Parse([]byte("fall_height: 2 m\nsimulators:\n  a:\n    fall_height: 3 m\n  b:\n    plots: 4\n"), "simulator.yaml", nothing)
	if len(issues.All()) > 0 || len(rigs) != 3 {
		t.Fatalf("%d profiles, %v", len(rigs), issues.All())
	}
	if rigs[0].FallHeightM.V != 2 || rigs[1].FallHeightM.V != 3 || rigs[2].FallHeightM.V != 2 || rigs[2].Plots != 4 {
		t.Errorf("profiles %+v", rigs)
	}
	if len(rigs[2].Cover) != len(rig.Default().Cover) || rigs[2].PressureLow.OK {
		t.Errorf("defaults %+v", rigs[2])
	}
	if rigs, issues := rig.Parse([]byte("# empty\n"), "simulator.yaml", nothing); len(rigs) != 0 || len(issues.All()) > 0 {
		t.Errorf("an empty file: %v, %v", rigs, issues.All())
	}
}

func TestFaultsOfProfiles(t *testing.T) {
	for _, tt := range []struct {
		text string
		code issue.Code
		row  int64
	}{
		{"pressure: 7 psi", rig.BadValue, 1},
		{"pressure:\n  from: 8 psi\n  to: 6 psi", rig.BadValue, 1},
		{"pressure:\n  from: 41", rig.BadValue, 2},
		{"plots: 2.5", rig.BadValue, 1},
		{"plots: 5 m", rig.BadValue, 1},
		{"tank:\n  volume: 10 L\n  heel: 12 L", rig.BadValue, 1},
		{"nozzle:\n  at: 7 psi", rig.BadValue, 1},
		{"slope_classes: [1-3 %, 5-8 %]", rig.BadValue, 1},
		{"slope_classes: [flat]", rig.BadValue, 1},
		{"cover:\n  - {land_use: [meadow]}", rig.BadValue, 2},
		{"cover: straw", rig.BadValue, 1},
		{"confirm_level: perhaps", rig.BadValue, 1},
		{"simulators: [a]", rig.BadValue, 1},
		{"- a", rig.BadValue, 1},
		{"psi: 7", rig.UnknownKey, 1},
		{"drops:\n  counts: [1, 2]", rig.BadDrops, 2},
		{"drops:\n  edges_mm: [1, 2, 3]\n  counts: [0, 0]", rig.BadDrops, 2},
		{"drops:\n  edges_mm: [1, 2]\n  counts: [3]\n  speeds_m_s: [1, 2]", rig.BadDrops, 2},
		{"drops:\n  file: drops.txt", rig.BadDrops, 2},
		{"drops:\n  sizes: [1]", rig.UnknownKey, 2},
		{"a: [", rig.Syntax, 1},
	} {
		_, issues := rig.Parse([]byte(tt.text), "simulator.yaml", nothing)
		all := issues.All()
		if len(all) != 1 || all[0].Code != tt.code || all[0].Row != tt.row || all[0].Message == "" {
			t.Errorf("%q: %v, want %s in line %d", tt.text, all, tt.code, tt.row)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add("pressure: {from: 6 psi}\nsimulators:\n  a: {drops: {file: drops.txt}}\n")
	f.Add("a: &a\n  nozzle: *a\n")
	f.Fuzz(func(t *testing.T, text string) {
		rigs, issues := rig.Parse([]byte(text), "simulator.yaml", func(string) ([]byte, error) { return []byte(text), nil })
		for _, i := range issues.All() {
			if i.Message == "" || i.Row < 0 {
				t.Fatalf("finding %+v", i)
			}
		}
		if issues.Errors() == 0 {
			for _, r := range rigs {
				if r.PressureLow.OK && r.PressureHigh.OK && r.PressureLow.V >= r.PressureHigh.V {
					t.Fatalf("band %+v", r)
				}
			}
		}
	})
}
