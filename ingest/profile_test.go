package ingest_test

import (
	"slices"
	"strings"
	"testing"

	"sheetwash/ingest"
	"sheetwash/ingest/issue"
)

// setUp is a day of two runs that breaks no rule of the set-up under profile.
const (
	setUpRuns = "run,event,simulator,intensity [mm/h],rain_duration [min],pressure [psi],water_temperature [Cel],level_confirmed\n" +
		"A,day,t1,60,30,7,18,true\nB,day,t1,60,30,7,18,true\n"
	setUpPlots = "run,plot,treatment,area [m2],position,slope [%],cover_kind,land_use,runoff_start [min]\n" +
		"A,1,ley,1,P1,2,living grass,meadow,10\nA,2,bare,1,P2,2,none,arable,\n" +
		"B,3,bare,1,P1,2,none,arable,10\nB,4,ley,1,P2,2,living grass,meadow,10\n"
	setUpSamples = "run,plot,stream,start [min],end [min],volume [mL]\n" +
		"A,1,runoff,10,20,2000\nA,1,runoff,20,30,3000\nA,2,runoff,0,10,1000\nA,2,runoff,10,20,2000\nA,2,runoff,20,30,3000\n" +
		"B,3,runoff,10,20,2000\nB,3,runoff,20,30,3000\nB,4,runoff,10,20,2000\nB,4,runoff,20,30,3000\n"
	setUpProfile = "simulators:\n  t1:\n    nozzle: {flow: 10 L/min, at: 7 psi}\n    pressure: {from: 6 psi, to: 8 psi}\n    tray_share: 30 %\n" +
		"    tank: {volume: 60 gal, heel: 10 L}\n    plots: 2\n    positions: [P1, P2]\n    confirm_level: true\n    slope_classes: [0-1 %, 1-3 %]\n" +
		"    first_bottle: {within: 30 s, share: 20 %}\n"
)

// Each rule of the set-up fires for one change of a sound day, at its place.
func TestSetUpRules(t *testing.T) {
	for _, tt := range []struct {
		name, file, old, new string
		code                 issue.Code
		at                   string
		row                  int64
		column               string
	}{
		{"pressure of a run", "runs.csv", "B,day,t1,60,30,7", "B,day,t1,60,30,8.5", "pressure.outside_band", "runs.csv", 3, "pressure [psi]"},
		{"pressure on the edge", "runs.csv", "B,day,t1,60,30,7", "B,day,t1,60,30,8", "", "", 0, ""},
		// 10 L/min x 0.7 x 30.5 min = 213.5 L and the tank gives 227.12 - 10 = 217.12 L.
		{"just enough water", "runs.csv", "B,day,t1,60,30,7", "B,day,t1,60,30.5,7", "", "", 0, ""},
		// at 8 psi the same 30 min take 10 x sqrt(8/7) x 0.7 x 30 = 224.5 L.
		{"too much water", "runs.csv", "B,day,t1,60,30,7", "B,day,t1,60,30,8", "supply.too_small", "runs.csv", 3, "rain_duration [min]"},
		{"not level", "runs.csv", "8,true\nB", "8,false\nB", "level.not_confirmed", "runs.csv", 2, "level_confirmed"},
		{"level not said", "runs.csv", "8,true\nB", "8,\nB", "level.not_confirmed", "runs.csv", 2, "level_confirmed"},
		{"straw on a meadow", "plots.csv", "A,1,ley,1,P1,2,living grass", "A,1,ley,1,P1,2,Straw mulch", "cover.unsuited", "plots.csv", 2, "cover_kind"},
		{"no such position", "plots.csv", "A,2,bare,1,P2", "A,2,bare,1,P7", "position.unknown", "plots.csv", 3, "position"},
		{"no such class", "plots.csv", "A,2,bare,1,P2,2", "A,2,bare,1,P2,4", "slope.no_class", "plots.csv", 3, "slope [%]"},
		{"a simulator without a profile", "runs.csv", "B,day,t1", "B,day,t11", "profile.no_simulator", "runs.csv", 3, "simulator"},
		{"one plot too many", "plots.csv", "B,3,bare,1,P1", "B,5,bare,1,,2,none,arable,none\nB,3,bare,1,P1", "plot.too_many", "plots.csv", 6, "plot"},
		{"upper bound of the last class", "plots.csv", "A,2,bare,1,P2,2", "A,2,bare,1,P2,3", "", "", 0, ""},
		{"places never changed", "plots.csv", "B,3,bare,1,P1,2,none,arable,10\nB,4,ley,1,P2", "B,3,bare,1,P2,2,none,arable,10\nB,4,ley,1,P1", "treatment.confounded_position", "plots.csv", 2, "position"},
		{"first bottle late", "samples.csv", "A,1,runoff,10,20,2000\n", "", "sample.first_missing", "samples.csv", 2, "start [min]"},
		{"first bottle missing, no onset noted", "samples.csv", "A,2,runoff,0,10,1000\n", "", "sample.first_missing", "samples.csv", 4, "start [min]"},
		{"sound", "", "", "", "", "", 0, ""},
	} {
		files := map[string]string{"d/runs.csv": setUpRuns, "d/plots.csv": setUpPlots, "d/samples.csv": setUpSamples, "d/simulator.yaml": setUpProfile}
		if tt.name == "pressure on the edge" {
			files["d/simulator.yaml"] = strings.Replace(setUpProfile, "60 gal", "70 gal", 1)
		}
		if tt.file != "" {
			changed := strings.Replace(files["d/"+tt.file], tt.old, tt.new, 1)
			if changed == files["d/"+tt.file] {
				t.Fatalf("%s: nothing was changed", tt.name)
			}
			files["d/"+tt.file] = changed
		}
		var found []issue.Issue
		for _, i := range accepted(t, files).Issues {
			if i.Severity != issue.Note {
				found = append(found, i)
			}
		}
		switch {
		case tt.code == "" && len(found) > 0:
			t.Errorf("%s: %s", tt.name, list(found))
		case tt.code != "" && !slices.ContainsFunc(found, func(i issue.Issue) bool {
			return i.Code == tt.code && i.File == tt.at && i.Row == tt.row && i.Column == tt.column && i.Message != ""
		}):
			t.Errorf("%s: no %s at %s:%d; findings:%s", tt.name, tt.code, tt.at, tt.row, list(found))
		}
	}
}

// Without a profile there is no band: pressure, supply, level and places are
// not judged. One placement is noted.
func TestNoProfileNoBand(t *testing.T) {
	files := map[string]string{
		"d/runs.csv":    "run,event,simulator,intensity [mm/h],rain_duration [min],pressure [psi]\nA,day,t1,60,30,20\n",
		"d/plots.csv":   "run,plot,treatment,area [m2],position,slope [%]\nA,1,ley,1,P1,2\nA,2,bare,1,P2,40\n",
		"d/samples.csv": "run,plot,stream,start [min],end [min],volume [mL]\nA,1,runoff,0,30,2000\nA,2,runoff,0,30,2000\n",
	}
	var codes []string
	for _, i := range accepted(t, files).Issues {
		codes = append(codes, string(i.Code))
	}
	if !slices.Contains(codes, "treatment.one_placement") {
		t.Errorf("one placement is not noted: %v", codes)
	}
	for _, c := range []string{"pressure.outside_band", "supply.too_small", "level.not_confirmed", "position.unknown", "slope.no_class", "treatment.confounded_position"} {
		if slices.Contains(codes, c) {
			t.Errorf("%s without a profile", c)
		}
	}
}

// One profile above several datasets serves those that have none of their own,
// and is part of their digest.
func TestProfileOfASeason(t *testing.T) {
	files := map[string]string{"simulator.yaml": "fall_height: 2 m\n", "b/simulator.yaml": "fall_height: 3 m\n"}
	for _, d := range []string{"a", "b"} {
		files[d+"/runs.csv"], files[d+"/plots.csv"], files[d+"/samples.csv"] = setUpRuns, setUpPlots, setUpSamples
	}
	dir := tree(t, files)
	sources, _, err := ingest.Find([]string{dir}, ingest.FindOptions{})
	if err != nil || len(sources) != 2 {
		t.Fatalf("%d datasets, %v", len(sources), err)
	}
	digests := map[string]bool{}
	for i, want := range []float64{2, 3} {
		o, err := ingest.Read(t.Context(), sources[i], ingest.Options{})
		if err != nil || o.Dataset == nil {
			t.Fatal(err, list(o.Issues))
		}
		digests[o.Digest] = true
		if r := o.Dataset.Rig("t1"); r == nil || r.FallHeightM.V != want {
			t.Errorf("%s: profile %+v, want a fall of %v m", sources[i].Name, r, want)
		}
	}
	if len(digests) != 2 {
		t.Error("two profiles and one digest")
	}
}

// A logger's pressure is judged by its mean over the rain: 5 and 5.5 psi, and 7
// psi after its end.
func TestLoggedPressure(t *testing.T) {
	files := map[string]string{"d/runs.csv": strings.ReplaceAll(setUpRuns, ",7,18", ",,18"), "d/plots.csv": setUpPlots, "d/samples.csv": setUpSamples, "d/simulator.yaml": setUpProfile,
		"d/readings.csv": "run,plot,time [min],channel,value,unit\nA,,5,pressure,5,psi\nA,,25,pressure,5.5,psi\nA,,40,pressure,7,psi\n"}
	found := false
	for _, i := range accepted(t, files).Issues {
		if i.Code == "pressure.outside_band" {
			found = i.File == "runs.csv" && i.Row == 2 && strings.Contains(i.Message, "36.1975 kPa") // 5.25 psi
		}
	}
	if !found {
		t.Error("the logged pressure is not reported at its run")
	}
}

// Soil that is rained on again stands where it stood: a dry and a wet run on the
// same plots are one placement, and two days on new soil are two.
func TestPlacementsOfSoil(t *testing.T) {
	samples := "run,plot,stream,start [min],end [min],volume [mL]\nA,1,runoff,0,30,2000\nA,2,runoff,0,30,2000\nB,1,runoff,0,30,2000\nB,2,runoff,0,30,2000\n"
	plots := "run,plot,treatment,area [m2],position\nA,1,ley,1,P1\nA,2,bare,1,P2\nB,1,ley,1,P1\nB,2,bare,1,P2\n"
	for _, tt := range []struct {
		events [2]string
		want   issue.Code
	}{{[2]string{"day", "day"}, "treatment.one_placement"}, {[2]string{"May", "June"}, "treatment.confounded_position"}} {
		files := map[string]string{
			"d/runs.csv":  "run,event,intensity [mm/h],rain_duration [min],sequence\nA," + tt.events[0] + ",60,30,dry\nB," + tt.events[1] + ",60,30,wet\n",
			"d/plots.csv": plots, "d/samples.csv": samples,
		}
		var codes []issue.Code
		for _, i := range accepted(t, files).Issues {
			if strings.HasPrefix(string(i.Code), "treatment.") {
				codes = append(codes, i.Code)
			}
		}
		if !slices.Equal(codes, []issue.Code{tt.want}) {
			t.Errorf("%v: %v, want %s", tt.events, codes, tt.want)
		}
	}
}
