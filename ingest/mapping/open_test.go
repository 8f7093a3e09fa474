package mapping_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/mapping"
	"sheetwash/ingest/table"
)

// openMap opens everything a mapping feeds.
func openMap(t *testing.T, text string, f files) ([]*mapping.Bound, *issue.List) {
	t.Helper()
	var issues issue.List
	bounds, err := parse(t, text).Open(t.Context(), f, &issues)
	if err != nil {
		t.Fatal(err)
	}
	return bounds, &issues
}

func rows(t *testing.T, b *mapping.Bound) []string {
	t.Helper()
	out, _ := cells(t, b)
	return out
}

func TestOpenJoin(t *testing.T) {
	bounds, issues := openMap(t, `
tables:
  runs:
    file: days.csv
    join:
      - {file: rain.csv, on: run}
      - {file: crews.csv, on: {run: id, site: place}}
    columns:
      run: run
      intensity: {from: gauge, unit: mm/min}
      crew: crew
      note: {compose: "{rain.site}/{site}"}
      rain_duration: {constant: 30, unit: min}
`, files{
		"days.csv":  "site,run\nA,1\nB,2\nC,3\n",
		"rain.csv":  "gauge,run,site\n1.5,2,x\n0.5,1,y\n",
		"crews.csv": "id,place,crew\n1,A,amber\n2,A,teal\n2,B,slate\n3,C,teal\n",
	})
	equal(t, "findings", codes(issues), nil)
	// columns in the dictionary's order: run, crew, intensity, rain_duration, note
	all, found := cells(t, bounds[0])
	equal(t, "rows", all, []string{"2|1|amber|0.5|30|y/A", "3|2|slate|1.5|30|x/B", "4|3|teal||30|/C"})
	equal(t, "findings of rows", codes(found), []string{"warning mapping.join run"})
	if i := found.All()[0]; i.Row != 4 || i.Value != "3" || i.File != "days.csv" {
		t.Errorf("unmatched key: %+v", i)
	}
}

// Numbers of a joined file and of the mapping are written with the decimal mark
// of the file that they join; names of files are also found in other case.
func TestOpenJoinDecimal(t *testing.T) {
	bounds, _ := openMap(t, "tables: {runs: {file: A.csv, join: {file: b.csv, on: run}, columns: {run: run, rain_duration: d, intensity: i, pressure: {constant: 48.5, unit: kPa}}}}", files{
		"a.csv": "run;d\n1;29,5\n2;30,5\n", "b.csv": "run,i\n1,76.5\n2,75.5\n",
	})
	if !bounds[0].Source.DecimalComma() {
		t.Fatal("the main file has a decimal comma")
	}
	equal(t, "rows", rows(t, bounds[0]), []string{"2|1|76,5|29,5|48,5", "3|2|75,5|30,5|48,5"})
}

func TestOpenUnpivot(t *testing.T) {
	for _, tt := range []struct {
		name, rule, csv string
		want            []string
	}{
		{
			"bottle times in the header", `{columns: "^v(?P<until>[0-9]+)$", value: ml}`,
			"plot,v5,note,v10,v15\nA,1,x,2,3\nB,4,y,,6\n",
			// end, volume by row of the file
			[]string{"2|A|5|1", "2|A|10|2", "2|A|15|3", "3|B|5|4", "3|B|15|6"},
		},
		{
			"empty cells kept", `{columns: "^v(?P<until>[0-9]+)$", value: ml, drop_empty: false}`,
			"plot,v5,v10\nA,,2\n",
			[]string{"2|A|5|", "2|A|10|2"},
		},
		{
			"two measures", `{columns: "^(?P<measure>ml|sed)_(?P<until>[0-9]+)$"}`,
			"plot,ml_5,sed_5,ml_10,sed_10\nA,1,0.1,2,0.2\nB,3,,,\n",
			[]string{"2|A|5|1", "2|A|10|2", "3|B|5|3"},
		},
	} {
		t.Run(tt.name, func(t *testing.T) {
			bounds, issues := openMap(t, fmt.Sprintf(`
tables:
  samples:
    file: wide.csv
    unpivot: %s
    columns: {run: {constant: 1}, plot: plot, stream: {constant: runoff}, end: {from: until, unit: min}, volume: {from: ml, unit: mL}}
`, tt.rule), files{"wide.csv": tt.csv})
			if issues.Errors() > 0 {
				t.Fatal(issues.All())
			}
			var got []string
			for _, row := range rows(t, bounds[0]) {
				r := strings.Split(row, "|")
				got = append(got, strings.Join([]string{r[0], r[2], r[4], r[5]}, "|"))
			}
			equal(t, "rows", got, tt.want)
		})
	}
}

func TestOpenFilter(t *testing.T) {
	bounds, issues := openMap(t, `
tables:
  samples:
    - file: b.csv
      where: {kind: [water, both], plot: "1"}
      skip: {ok: "no", end: ""}
      columns: {run: run, plot: plot, stream: {constant: runoff}, end: {from: end, unit: min}}
`, files{"b.csv": "run,plot,kind,ok,end\n1,1,water,yes,5\n1,1,water,no,10\n1,2,water,yes,5\n1,1, both ,yes,15\n1,1,soil,yes,15\n1,1,water,yes,\n"})
	equal(t, "findings", codes(issues), nil)
	equal(t, "rows", rows(t, bounds[0]), []string{"2|1|1|runoff|5", "5|1|1|runoff|15"})
}

func TestOpenFiles(t *testing.T) {
	bounds, issues := openMap(t, `
timezone: "+01:00"
missing: [NA]
tables:
  readings:
    file: log_*.csv
    missing: {x: missing}
    columns:
      run: {file_name: "^log_(.+)$"}
      time: {from: t, unit: s, missing: {NA: none}}
      runoff_mass: {from: scale, unit: kg}
      rain_rate: Rain
`, files{"log_1.csv": "t,scale,Rain\n0,1,3\n", "log_b.csv": "t,scale,Rain\n0,2,4\n", "other.csv": "a\n1\n"})
	equal(t, "findings", codes(issues), []string{"note unit.default Rain", "note unit.default Rain"})
	equal(t, "first", rows(t, bounds[0]), []string{"2|1|0|1|3"})
	equal(t, "second", rows(t, bounds[1]), []string{"2|b|0|2|4"})
	b := bounds[0]
	if !b.Wide || b.Zone == nil || len(bounds) != 2 {
		t.Errorf("wide %v, zone %v, %d tables", b.Wide, b.Zone, len(bounds))
	}
	time, _ := b.Binding("time")
	if time.Missing["NA"] != mapping.NotHappened || time.Missing["x"] != mapping.NotMeasured || b.Bindings[2].Missing["NA"] != mapping.NotMeasured {
		t.Errorf("missing words: %v, %v", time.Missing, b.Bindings[2].Missing)
	}
}

func TestOpenOwnHeaders(t *testing.T) {
	bounds, issues := openMap(t, `
tables:
  plots:
    file: p.csv
    own_headers: true
    columns: {treatment: Practice, area: {constant: 0.75, unit: m2}}
  runs: {file: r.csv}
`, files{"p.csv": "run,plot,Practice,treatment,slope [%],colour\n1,1,till,old,2,red\n", "r.csv": "run,rain_duration [min]\n1,30\n"})
	equal(t, "bindings", bindings(bounds), []string{
		"runs.run <- run", "runs.rain_duration <- rain_duration [min] [min > min]",
		"plots.run <- run", "plots.plot <- plot", "plots.treatment <- Practice", "plots.area <- area [m2 > m2]", "plots.slope <- slope [%] [% > 1]",
		"plots.treatment <- treatment", "plots.colour <- colour",
	})
	equal(t, "findings", codes(issues), []string{"note column.covariate colour", "note column.covariate treatment"})
}

func TestOpenFaults(t *testing.T) {
	f := files{"a.csv": "run,plot,end,V [mL],W (g)\n1,1,5,3,4\n", "twice.csv": "run,x\n1,a\n1,b\n", "bad.csv": "run,\"x\n1,2\n"}
	for _, tt := range []struct{ name, text, want string }{
		{"no such file", "tables:\n  samples:\n    file: b.csv\n", "mapping.yaml:3 mapping.no_such_file"},
		{"no file of the pattern", "tables:\n  samples:\n    file: q*.csv\n", "mapping.yaml:3 mapping.no_such_file"},
		{"no such joined file", "tables:\n  runs:\n    file: a.csv\n    join: {file: c.csv, on: run}\n    columns: {run: run, rain_duration: {constant: 3, unit: min}}\n", "mapping.yaml:4 mapping.no_such_file"},
		{"no such column", "tables:\n  samples:\n    file: a.csv\n    columns:\n      volume: vv\n", "mapping.yaml:5 mapping.no_such_column"},
		{"no such column to compose", "tables:\n  plots:\n    file: a.csv\n    columns:\n      treatment: {compose: \"{q}\"}\n", "mapping.yaml:5 mapping.no_such_column"},
		{"no such covariate", "tables:\n  plots:\n    file: a.csv\n    columns:\n      run: run\n    covariates: [q]\n", "mapping.yaml:3 mapping.no_such_column"},
		{"no such column to test", "tables:\n  samples:\n    file: a.csv\n    where:\n      q: 1\n", "mapping.yaml:5 mapping.no_such_column"},
		{"no such key", "tables:\n  runs:\n    file: a.csv\n    join: {file: twice.csv, on: q}\n", "mapping.yaml:4 mapping.no_such_column"},
		{"nothing to unpivot", "tables:\n  samples:\n    file: a.csv\n    unpivot:\n      {columns: \"q(?P<end>.)\", value: v}\n", "mapping.yaml:5 mapping.no_such_column"},
		{"a key twice", "tables:\n  runs:\n    file: a.csv\n    join: {file: twice.csv, on: run}\n", "twice.csv:3 mapping.join"},
		{"a file name that does not fit", "tables:\n  readings:\n    file: a.csv\n    columns:\n      run: {file_name: \"log_(.+)\"}\n", "mapping.yaml:5 mapping.value"},
		{"a unit of another quantity in the header", "tables:\n  samples:\n    file: a.csv\n    columns:\n      volume: W (g)\n", "a.csv:0 unit.dimension"},
		{"a required column", "tables:\n  samples:\n    file: a.csv\n    columns:\n      run: run\n", "a.csv:0 column.missing"},
		{"a file that cannot be read", "tables:\n  runs:\n    file: bad.csv\n", "bad.csv:1 csv.unclosed_quote"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, issues := openMap(t, tt.text, f)
			var got []string
			for _, i := range issues.All() {
				if i.Severity == issue.Error {
					got = append(got, fmt.Sprintf("%s:%d %s", i.File, i.Row, i.Code))
				}
			}
			if !slices.Contains(got, tt.want) {
				t.Errorf("want %s; got %v", tt.want, issues.All())
			}
		})
	}
}

// broken fails to open.
type broken struct{ files }

func (broken) Open(context.Context, mapping.Location) (table.Table, error) {
	return nil, errors.New("cable pulled")
}

func TestOpenError(t *testing.T) {
	var issues issue.List
	_, err := parse(t, "tables: {runs: {file: a.csv}}").Open(t.Context(), broken{files{"a.csv": ""}}, &issues)
	if err == nil || !strings.Contains(err.Error(), "open a.csv: cable pulled") {
		t.Errorf("error %v", err)
	}
}

// Blanks have no plot, blanks and remainders no interval.
func TestOpenSparesColumns(t *testing.T) {
	for stream, want := range map[string][]string{
		"blank": nil, "remainder": {"error column.missing plot"}, "runoff": {"error column.missing end", "error column.missing plot"},
	} {
		_, issues := openMap(t, "tables: {samples: {file: a.csv, columns: {run: run, stream: {constant: "+stream+"}}}}", files{"a.csv": "run\n1\n"})
		equal(t, stream, codes(issues), want)
	}
}

// The wash-off runs: 36 runs with their jars, filters, blanks and remainders,
// counted in the files by hand.
func TestOpenWashOff(t *testing.T) {
	dir := filepath.Join("..", "..", "testdata", "datasets", "twp-washoff-sand")
	f := files{}
	for _, n := range []string{"metadata.csv", "rain_data.csv", "runoff_data.csv", "mass_data.csv"} {
		data, err := os.ReadFile(filepath.Join(dir, n))
		if err != nil {
			t.Fatal(err)
		}
		f[n] = string(data)
	}
	text, err := os.ReadFile(filepath.Join(dir, "mapping.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	bounds, issues := openMap(t, string(text), f)
	for _, i := range issues.All() {
		if i.Severity != issue.Note {
			t.Error(i)
		}
	}
	var got []string
	for _, b := range bounds {
		all := rows(t, b)
		got = append(got, fmt.Sprintf("%s of %s: %d rows, %s", b.Table.Name, b.Source.File(), len(all), all[0]))
	}
	equal(t, "tables", got, []string{
		"runs of metadata.csv: 36 rows, 2|1|wash-off trial|0.94780219780219788|30|true|true|particles spread on an impermeable flume; not eroded soil",
		"plots of metadata.csv: 36 rows, 2|1|flume|sand, 15 deg, med rain|7200|surface|1|surface of run 1|15|sand|med|1",
		"samples of runoff_data.csv: 1065 rows, 2|1|flume|runoff|0|1|835.6|393.3|21.7",
		"samples of mass_data.csv: 216 rows, 3|1|flume|runoff|0|5|2.9447|2.61153",
		"samples of mass_data.csv: 36 rows, 2|1|blank|2.66673|2.61232",
		"samples of mass_data.csv: 36 rows, 9|1|flume|remainder|2.95752|2.64193",
	})
}
