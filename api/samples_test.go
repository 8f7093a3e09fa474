package api_test

import (
	"context"
	"path/filepath"
	"reflect"
	"testing"

	"sheetwash/analysis/experiment"
	"sheetwash/api/batch"
	"sheetwash/ingest"
)

// The samples of datasets are the bottles of their plots, each once, with the numbers
// and places that the checks read.
func TestSamplesAreTheBottles(t *testing.T) {
	s := newService(t)
	season := s.season("2031")
	days := []string{"01-ashlock-mill", "09-tarn-gate"}
	var paths []string
	for _, d := range days {
		s.upload(season, d).want(201)
		paths = append(paths, filepath.Join("..", "testdata", "demo-season", d))
	}
	read, err := batch.Request{}.ReadSeason(context.Background(), paths, ingest.FindOptions{}, func(int, int) {})
	if err != nil {
		t.Fatal(err)
	}
	type place struct{ event, run, plot, stream, file string }
	want, bottles := map[place]map[float64]experiment.Sample{}, 0
	for i := range read.Datasets {
		for _, run := range read.Datasets[i].Runs() {
			for _, p := range run.Plots {
				for _, b := range p.Samples {
					at := place{run.Event, run.ID, p.ID, b.Stream.String(), b.Place.File}
					if want[at] == nil {
						want[at] = map[float64]experiment.Sample{}
					}
					want[at][float64(b.Place.Row)] = b
					bottles++
				}
			}
		}
	}
	seen := map[string]bool{}
	for at := "/v1/samples?limit=7&season=" + season; at != ""; {
		r := s.get(at).want(200)
		for _, row := range r.data() {
			text := func(name string) string { v, _ := row[name].(string); return v }
			if seen[text("id")] {
				t.Errorf("%s comes twice", text("id"))
			}
			seen[text("id")] = true
			b, ok := want[place{text("event"), text("run"), text("plot"), text("stream"), text("file")}][row["row"].(float64)]
			if !ok {
				t.Errorf("no bottle is %v", row)
				continue
			}
			for name, number := range map[string]struct {
				v  float64
				ok bool
			}{
				"start_min": {b.StartMin, true}, "end_min": {b.EndMin, true}, "volume_ml": {b.VolumeML.V, b.VolumeML.OK}, "gross_g": {b.GrossG.V, b.GrossG.OK},
				"tare_g": {b.TareG.V, b.TareG.OK}, "sediment_g": {b.SedimentG.V, b.SedimentG.OK}, "sediment_gross_g": {b.SedimentGrossG.V, b.SedimentGrossG.OK},
				"sediment_tare_g": {b.SedimentTareG.V, b.SedimentTareG.OK}, "concentration_g_l": {b.ConcentrationGL.V, b.ConcentrationGL.OK},
				"turbidity_ntu": {b.TurbidityNTU.V, b.TurbidityNTU.OK}, "water_temp_c": {b.WaterTempC.V, b.WaterTempC.OK},
			} {
				var expected any
				if number.ok {
					expected = number.v
				}
				if row[name] != expected {
					t.Errorf("%s of %v is %v, want %v", name, row["id"], row[name], expected)
				}
			}
			if row["flag"] != b.Flag.String() || len(row["analytes"].([]any)) != len(b.Analytes) || row["excluded"] != b.Exclude {
				t.Errorf("%v is not %+v", row, b)
			}
			if one := s.get("/v1/samples/" + text("id")).want(200).json(); !reflect.DeepEqual(one, row) {
				t.Errorf("alone it is %v, in the list %v", one, row)
			}
		}
		at, _ = r.json()["links"].(map[string]any)["next"].(string)
	}
	if len(seen) != bottles {
		t.Errorf("%d samples, and %d bottles", len(seen), bottles)
	}
}

func TestSampleFilters(t *testing.T) {
	s := newService(t)
	season := s.season("2031")
	first := s.upload(season, "01-ashlock-mill").want(201).id()
	s.upload(season, "03-fenwick-holt").want(201)
	plot := s.get("/v1/plots?dataset=" + first).want(200).data()[0]
	for query, fits := range map[string]func(row map[string]any) bool{
		"dataset=" + first:                               func(row map[string]any) bool { return row["dataset"] == first },
		"plot=" + plot["id"].(string):                    func(row map[string]any) bool { return row["plot_id"] == plot["id"] },
		"treatment=" + plot["treatment_id"].(string):     func(row map[string]any) bool { return row["treatment"] == plot["treatment"] },
		"run=" + plot["run"].(string) + "&stream=runoff": func(row map[string]any) bool { return row["run"] == plot["run"] && row["stream"] == "runoff" },
	} {
		rows := s.get("/v1/samples?limit=1000&" + query).want(200).data()
		all := s.get("/v1/samples?limit=1000").want(200).data()
		n := 0
		for _, row := range all {
			if fits(row) {
				n++
			}
		}
		if len(rows) != n || n == 0 || n == len(all) {
			t.Errorf("%s: %d samples, want %d of %d", query, len(rows), n, len(all))
		}
	}
	s.get("/v1/samples?stream=rain").want(400).problem("malformed_request")
	s.get("/v1/samples?sort=id").want(400).problem("unknown_parameter")
	s.get("/v1/samples?cursor=x").want(400).problem("bad_cursor")
	id := s.get("/v1/samples?limit=1").want(200).data()[0]["id"].(string)
	for _, wrong := range []string{id + "0000", id[:len(id)-1] + "0", id[:len(id)-1] + "01", id[:len(id)-2], "x"} {
		s.get("/v1/samples/" + wrong).want(404).problem("not_found")
	}

	// A deleted dataset has no samples any more, though they may be remembered.
	tag := s.get("/v1/datasets/" + first).want(200).header.Get("ETag")
	s.ask("DELETE", "/v1/datasets/"+first, nil, "If-Match: "+tag).want(204)
	if rows := s.get("/v1/samples?dataset=" + first).want(200).data(); len(rows) > 0 {
		t.Errorf("a deleted dataset has %d samples", len(rows))
	}
	s.get("/v1/samples/" + plot["id"].(string) + ".1").want(404)
}
