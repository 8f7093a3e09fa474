package rig

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
)

// ErrDrops is returned for a table of drop sizes that cannot be used.
var ErrDrops = errors.New("table of drop sizes")

// stampFields are the year, day of year, hour and minute before the classes.
const stampFields = 4

// maxClasses bounds the classes of a table.
const maxClasses = 1000

// ParseDrops reads the file of an instrument that counts drops: no header, one
// line per minute, blanks or commas between the year, the day of the year, the
// hour, the minute and one value per class. edges are the diameters between
// classes in mm, one more than classes; nil: those of the instrument that has so
// many classes, 32 or 50.
//
// Minutes without rain are absent. A file whose values are whole numbers holds
// counts, any other concentrations in 1/(m3 mm): counts of several minutes are
// added, concentrations averaged. Errors: ErrDrops.
func ParseDrops(data []byte, edges []float64) (*experiment.DropTable, error) {
	var sum []float64
	whole, minutes := true, 0
	s := bufio.NewScanner(bytes.NewReader(data))
	s.Buffer(nil, 1<<20)
	for line := 1; s.Scan(); line++ {
		fields := strings.FieldsFunc(s.Text(), func(r rune) bool { return r == ' ' || r == '\t' || r == ',' || r == ';' || r == '\r' })
		if len(fields) == 0 {
			continue
		}
		if sum == nil {
			sum = make([]float64, max(0, len(fields)-stampFields))
		}
		if len(sum) == 0 || len(sum) > maxClasses || len(fields) != len(sum)+stampFields {
			return nil, fmt.Errorf("%w: line %d has %d fields, want the time in four and one per class, as many in every line", ErrDrops, line, len(fields))
		}
		for k, f := range fields {
			v, err := strconv.ParseFloat(f, 64)
			if err != nil || !(v >= 0) || math.IsInf(v, 1) {
				return nil, fmt.Errorf("%w: line %d: %q is no number of drops", ErrDrops, line, f)
			}
			if k >= stampFields {
				sum[k-stampFields] += v
				whole = whole && v == math.Trunc(v)
			}
		}
		minutes++
	}
	if s.Err() != nil || minutes == 0 {
		return nil, fmt.Errorf("%w: no line of values", ErrDrops)
	}
	if !whole {
		for k := range sum {
			sum[k] /= float64(minutes)
		}
	}
	return classes(sum, edges, !whole)
}

// classes joins values with the edges of their classes.
func classes(values, edges []float64, concentration bool) (*experiment.DropTable, error) {
	if edges == nil {
		edges = knownEdges(len(values))
	}
	if len(edges) != len(values)+1 {
		return nil, fmt.Errorf("%w: %d values and %d edges of classes, want one edge more than values", ErrDrops, len(values), len(edges))
	}
	t := &experiment.DropTable{Concentration: concentration}
	var total float64
	for k, v := range values {
		if !(edges[k] >= 0 && edges[k+1] > edges[k] && v >= 0) || math.IsInf(edges[k+1]+v, 1) {
			return nil, fmt.Errorf("%w: class %d from %v to %v mm holds %v", ErrDrops, k+1, edges[k], edges[k+1], v)
		}
		total += v
		t.Classes = append(t.Classes, experiment.DropClass{FromMM: edges[k], ToMM: edges[k+1], Value: v})
	}
	if total == 0 {
		return nil, fmt.Errorf("%w: no drop in any class", ErrDrops)
	}
	return t, nil
}

// knownEdges returns the edges of instruments that are told by how many classes
// they have: 32 of a laser disdrometer (ten of 0.125 mm, five each of 0.25, 0.5,
// 1 and 2 mm, two of 3 mm) and 50 of a video disdrometer (0.2 mm each).
func knownEdges(n int) []float64 {
	var widths []float64
	repeat := func(n int, w float64) {
		for range n {
			widths = append(widths, w)
		}
	}
	switch n {
	case 32:
		repeat(10, 0.125)
		for _, w := range []float64{0.25, 0.5, 1, 2} {
			repeat(5, w)
		}
		repeat(2, 3)
	case 50:
		repeat(50, 0.2)
	default:
		return nil
	}
	edges := make([]float64, n+1)
	for k, w := range widths {
		edges[k+1] = edges[k] + w
	}
	return edges
}

// drops reads the key of that name: a file, or edges with counts or
// concentrations, and speeds where they were measured.
func (p *parser) drops(n *yaml.Node, key string, rig *experiment.Rig) {
	var d struct {
		File                                  string
		Edges, Counts, Concentrations, Speeds []float64
	}
	known := map[string]any{"file": &d.File, "edges_mm": &d.Edges, "counts": &d.Counts, "concentrations": &d.Concentrations, "speeds_m_s": &d.Speeds}
	if n.Kind != yaml.MappingNode {
		p.fault(BadValue, n.Line, key, n.Value, "write file, or edges_mm with counts or concentrations")
		return
	}
	for k, v := range pairs(n) {
		into := known[k.Value]
		if into == nil {
			p.fault(UnknownKey, k.Line, key+"."+k.Value, "", "this key does not exist: use one of file, edges_mm, counts, concentrations, speeds_m_s")
			return
		}
		if v.Decode(into) != nil {
			p.fault(BadValue, v.Line, key+"."+k.Value, v.Value, "a name or a list of numbers is wanted")
			return
		}
	}
	var t *experiment.DropTable
	var err error
	switch {
	case d.File != "":
		var data []byte
		if data, err = p.open(d.File); err == nil {
			t, err = ParseDrops(data, d.Edges)
		}
	case d.Counts != nil:
		t, err = classes(d.Counts, d.Edges, false)
	default:
		t, err = classes(d.Concentrations, d.Edges, true)
	}
	if err == nil && len(d.Speeds) > 0 && len(d.Speeds) != len(t.Classes) {
		err = fmt.Errorf("%w: %d speeds for %d classes", ErrDrops, len(d.Speeds), len(t.Classes))
	}
	if err != nil {
		p.fault(BadDrops, n.Line, key, d.File, err.Error())
		return
	}
	for k, v := range d.Speeds {
		if !(v > 0 && v < 100) {
			p.fault(BadDrops, n.Line, key+".speeds_m_s", fmt.Sprint(v), "speeds must lie between 0 and 100 m/s")
			return
		}
		t.Classes[k].SpeedMS = quantity.Some(v)
	}
	rig.Drops = t
}
