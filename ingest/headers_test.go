package ingest_test

import "testing"

// TestHeaders asks for the header of a column that a mapping renamed, for none of one whose header is the name of the
// dictionary with a unit, and for none where one file feeds a column from two headers.
func TestHeaders(t *testing.T) {
	files := map[string]string{
		"d/runs.csv":  "run,rain_duration [min],intensity [mm/h]\n1,30,60\n",
		"d/plots.csv": "run,plot,treatment,area [m2]\n1,1,bare,1\n",
		"d/bottles.csv": "Day,Pan,Until,Ran off,Drained\n" +
			"1,1,10,2000,0\n1,1,20,4000,100\n",
		"d/mapping.yaml": `tables:
  samples:
    - file: bottles.csv
      columns: {run: Day, plot: Pan, stream: {constant: runoff}, end: {from: Until, unit: min}, volume: {from: Ran off, unit: mL}}
    - file: bottles.csv
      columns: {run: Day, plot: Pan, stream: {constant: drainage}, end: {from: Until, unit: min}, volume: {from: Drained, unit: mL}}
`,
	}
	d := accepted(t, files).Dataset
	for _, tt := range []struct{ file, column, want string }{
		{"bottles.csv", "end", "Until"},
		{"bottles.csv", "plot", "Pan"},
		{"bottles.csv", "volume", ""},
		{"plots.csv", "area", ""},
		{"runs.csv", "intensity", ""},
		{"runs.csv", "pressure", ""},
	} {
		if got := d.Header(tt.file, tt.column); got != tt.want {
			t.Errorf("%s of %s: %q, want %q", tt.column, tt.file, got, tt.want)
		}
	}
}
