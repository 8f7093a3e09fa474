package demo

import "strings"

// mappingFile says which of the crew's columns plays which role.
const mappingFile = `# How the Copper Lea sheets feed the tables of the data dictionary (invented demo data).
tables:
  runs:
    file: shower log.csv
    columns:
      run: Shower
      event: {constant: Copper Lea}
      season: {constant: "2031"}
      site: {constant: Copper Lea}
      crew: Crew
      simulator: Rig
      started: Began
      intensity: {from: Rain rate, unit: in/h}
      rain_duration: {from: Lasted, unit: min}
      water_temperature: {from: Water, unit: "°F"}
  plots:
    file: boxes.csv
    columns:
      run: Shower
      plot: Box
      treatment: {compose: "{Crop} {Handling}"}
      area: {from: Box area, unit: ft2}
      slope: {from: Fall, unit: "%"}
      runoff_start: {from: First flow, missing: {"never": none}}
  samples:
    file: jugs.csv
    columns:
      run: Shower
      plot: Box
      stream: {from: What, translate: {off: runoff}}
      start: From
      end: To
      volume: {from: Water, unit: fl oz}
      sediment_mass: {from: Dry soil, unit: g}
`

// ownNames is a day whose crew has its own words for everything, and a
// mapping.yaml that says what they mean.
func ownNames(d day) ([]File, error) {
	runs := d.runsGrid(customary).renamed("shower log", map[string]string{
		"run": "Shower", "crew": "Crew", "simulator": "Rig", "started": "Began", "intensity": "Rain rate", "rain_duration": "Lasted", "water_temperature": "Water",
	})
	samples := d.samplesGrid(customary).renamed("jugs", map[string]string{
		"run": "Shower", "plot": "Box", "stream": "What", "start": "From", "end": "To", "volume": "Water", "sediment_mass": "Dry soil",
	})
	for _, r := range samples.rows {
		r[2] = "off"
	}
	files, err := d.csvFiles([]grid{runs, d.boxes(), samples}, dialect{',', false, func(c gridColumn) string { return c.name }})
	if err != nil {
		return nil, err
	}
	return append(files, d.in("mapping.yaml", []byte(mappingFile))), nil
}

// boxes is the plots table in the crew's words, the treatment in two columns and
// a dry plot noted as "never".
func (d day) boxes() grid {
	g := d.plotsGrid(customary).renamed("boxes", map[string]string{
		"run": "Shower", "plot": "Box", "treatment": "Crop", "area": "Box area", "slope": "Fall", "runoff_start": "First flow",
	})
	out := grid{name: g.name}
	for _, c := range g.columns {
		out.columns = append(out.columns, c)
		if c.name == "Crop" {
			out.columns = append(out.columns, gridColumn{name: "Handling"})
		}
	}
	for _, r := range g.rows {
		var cells []string
		for i, c := range g.columns {
			switch {
			case c.name == "Crop":
				crop, handling := parts(r[i])
				cells = append(cells, crop, handling)
			case r[i] == "none":
				cells = append(cells, "never")
			default:
				cells = append(cells, r[i])
			}
		}
		out.add(cells...)
	}
	return out
}

// parts splits the name of a treatment after its second word.
func parts(treatment string) (crop, handling string) {
	words := strings.SplitN(treatment, " ", 3)
	return words[0] + " " + words[1], strings.Join(words[2:], " ")
}

// renamed returns the columns that have a new name, under it.
func (g grid) renamed(name string, names map[string]string) grid {
	out := grid{name: name, rows: make([][]string, len(g.rows))}
	for i, c := range g.columns {
		to, ok := names[c.name]
		if !ok {
			continue
		}
		out.columns = append(out.columns, gridColumn{to, c.unit})
		for r := range g.rows {
			out.rows[r] = append(out.rows[r], g.rows[r][i])
		}
	}
	return out
}
