package mapping_test

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"sheetwash/ingest/issue"
	"sheetwash/ingest/mapping"
	"sheetwash/ingest/schema"
	"sheetwash/ingest/table"
)

// proposed returns "table.column <- header [unit]" of every rule of a proposal.
func proposed(p *mapping.Proposal) []string {
	var out []string
	for _, s := range p.Map.Sources {
		for _, r := range s.Columns {
			line := s.Table + "." + r.Name + " <- " + r.From
			if r.HasUnit {
				line += " [" + r.Unit.String() + "]"
			}
			out = append(out, line)
		}
	}
	return out
}

func propose(t *testing.T, file, text string) *mapping.Proposal {
	t.Helper()
	p, err := mapping.ProposeTable(t.Context(), open(t, file, text))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestPropose(t *testing.T) {
	read := func(name string) string {
		data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "datasets", "twp-washoff-sand", name))
		if err != nil {
			t.Fatal(err)
		}
		return string(data)
	}
	for _, tt := range []struct {
		name, text string
		want       []string
	}{
		{"jars of the wash-off runs", read("runoff_data.csv"), []string{
			"samples.run <- run", "samples.start <- start_time_min [min]", "samples.end <- end_time_min [min]", "samples.gross_mass <- wet_jar_mass_g [g]",
			"samples.tare_mass <- dry_jar_mass_g [g]", "samples.water_temperature <- water_temp_C [Cel]",
		}},
		{"filters of the wash-off runs", read("mass_data.csv"), []string{
			"samples.run <- run", "samples.start <- start_time_min [min]", "samples.end <- end_time_min [min]", "samples.sediment_mass <- sample_mass_g [g]",
			"samples.sediment_gross_mass <- jar_and_sample_mass_g [g]", "samples.sediment_tare_mass <- jar_mass_g [g]",
		}},
		{"a joined sheet in US units", "Trial,Plot No,Management,Plot area (sq ft),Rain rate (in/hr),Duration (min),Type,To,Runoff (oz),Sediment (oz)\nA,1,till,8,3,30,Surface Runoff,5:00,12,1\n", []string{
			"runs.run <- Trial", "runs.intensity <- Rain rate (in/hr) [[in_i]/h]", "runs.rain_duration <- Duration (min) [min]",
			"plots.run <- Trial", "plots.plot <- Plot No", "plots.treatment <- Management", "plots.area <- Plot area (sq ft) [[ft_i]2]",
			"samples.run <- Trial", "samples.plot <- Plot No", "samples.stream <- Type", "samples.end <- To", "samples.volume <- Runoff (oz) [[foz_us]]", "samples.sediment_mass <- Sediment (oz) [[oz_av]]",
		}},
		{"nothing of ours", "wind,clouds\n3,many\n", nil},
		{"no rows", "run,plot,stream,end\n", []string{"samples.run <- run", "samples.plot <- plot", "samples.stream <- stream", "samples.end <- end"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			p := propose(t, "field.csv", tt.text)
			got := proposed(p)
			for i, g := range got { // ft2 in either code
				got[i] = strings.Replace(g, "[[sft_i]]", "[[ft_i]2]", 1)
			}
			equal(t, "proposal", got, tt.want)
			if m, issues := mapping.Parse(p.Render(), "m"); m == nil {
				t.Errorf("the rendered proposal is not read back: %v\n%s", issues.All(), p.Render())
			}
		})
	}
}

// What is rendered says how sure it is, what is missing and what was left over.
func TestRender(t *testing.T) {
	p := propose(t, "bottles.csv", "run,plot,until [min],end_time,Vol,weather\n1,1,5,5,NA,wet\n1,1,10,10,3,dry\n")
	for _, want := range []string{
		"run: run # sure: the name", "# likely: called \"end time\", no unit, min assumed", "missing: [NA]", "#   stream: {constant: runoff}", "# not used: until [min], weather",
	} {
		if !strings.Contains(string(p.Render()), want) {
			t.Errorf("%q does not stand in\n%s", want, p.Render())
		}
	}
	if g := p.Tables[0]; !slices.Equal(g.Missing, []string{"stream"}) || g.Confidence <= 0 || g.Confidence > 1 {
		t.Errorf("guess %+v", g)
	}
}

// A proposal of any headers and cells renders to a mapping that is read back
// with the same rules.
func TestRenderRoundTrip(t *testing.T) {
	var words []string
	for _, s := range schema.Tables() {
		for _, c := range s.Columns {
			words = append(words, c.Name)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		header := rapid.OneOf(rapid.SampledFrom(words), rapid.StringN(0, 12, 20), rapid.SampledFrom([]string{"Vol (mL)", "a: b", "# x", "'q'", "- x", "until_s", "Null", "~"}))
		var fields []table.Field
		for _, h := range rapid.SliceOfNDistinct(header, 0, 8, rapid.ID[string]).Draw(t, "headers") {
			fields = append(fields, table.Field{Name: strings.TrimSpace(h)})
		}
		var rows [][]string
		for range rapid.IntRange(0, 3).Draw(t, "rows") {
			row := make([]string, len(fields))
			for i := range row {
				row[i] = rapid.OneOf(rapid.SampledFrom([]string{"1", "2.5", "NA", "", "runoff", "true", "5:00"}), rapid.StringN(0, 6, 10)).Draw(t, "cell")
			}
			rows = append(rows, row)
		}
		p := mapping.Propose("a b.csv", fields, rows, false)
		if len(p.Map.Sources) != len(p.Tables) {
			t.Fatal("a table without its guess")
		}
		m, issues := mapping.Parse(p.Render(), "m")
		if m == nil {
			t.Fatalf("%v\n%s", issues.All(), p.Render())
		}
		if got, want := proposed(&mapping.Proposal{Map: m}), proposed(p); !slices.Equal(got, want) {
			t.Fatalf("read back as %v, proposed %v\n%s", got, want, p.Render())
		}
	})
}

// A template is read without any finding, and every column of it is bound.
func TestTemplate(t *testing.T) {
	for _, s := range schema.Tables() {
		content, ok := mapping.Template(s.Name)
		if !ok || bytes.Count(content, []byte("\n")) != 2 {
			t.Errorf("template of %s: %q", s.Name, content)
		}
		var issues issue.List
		bounds := mapping.Resolve(open(t, s.Name+".csv", string(content)), []string{s.Name}, &issues)
		equal(t, "findings of "+s.Name, codes(&issues), nil)
		if len(bounds) != 1 || len(bounds[0].Bindings) != len(s.Columns) {
			t.Errorf("%s: %d of %d columns bound", s.Name, len(bounds[0].Bindings), len(s.Columns))
		}
	}
	if _, ok := mapping.Template("bottles"); ok {
		t.Error("there is no table of bottles")
	}
}
