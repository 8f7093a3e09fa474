package page

import (
	"math"

	"sheetwash/analysis/infiltration"
	"sheetwash/analysis/result"
	"sheetwash/api/report/figure"
)

// curvePoints is how many points a fitted curve is drawn with.
const curvePoints = 80

// hortonCurve is the curve of capacity that the steady rate stands on, from the
// onset to the end of rain,
//
//	f = fc + (f0 - fc) exp(-k t)
//
// with t since the onset (Horton 1940), as the parameters of the fits table tell.
// Its band moves each parameter by its standard uncertainty as if it were alone and
// adds the squares: the table holds no covariances, so that the band is a picture
// of the parameters and not an interval of the curve.
func (p *plot) hortonCurve(endMin float64, unit scale) (figure.Line, bool) {
	var h infiltration.Horton
	u := map[string]float64{}
	have := 0
	for i := range p.fits {
		f := &p.fits[i]
		if f.Model != "horton" || !f.Value.OK {
			continue
		}
		switch f.Parameter {
		case "f0":
			h.F0 = f.Value.V
		case "fc":
			h.FC = f.Value.V
		case "k":
			h.K = f.Value.V
		default:
			continue
		}
		have++
		if f.U.OK {
			u[f.Parameter] = f.U.V
		}
	}
	onset := p.row(result.TimeToRunoff)
	if have < 3 || !known(onset) || onset.Censored == result.Right || !(endMin > onset.Value.V) {
		return figure.Line{}, false
	}
	line := figure.Line{Name: "fitted capacity", Role: figure.Fitted, Thin: true, Parts: [][]figure.Point{nil}}
	if len(u) == 3 {
		line.Name = "fitted capacity, band: its parameters one by one"
	}
	for i := range curvePoints + 1 {
		at := onset.Value.V + (endMin-onset.Value.V)*float64(i)/curvePoints
		t := (at - onset.Value.V) / 60
		v, err := h.Rate(t)
		if err != nil || !finite(v) {
			return figure.Line{}, false
		}
		line.Parts[0] = append(line.Parts[0], figure.Point{X: at, Y: unit.of(v)})
		if len(u) == 3 {
			e := math.Exp(-h.K * t)
			d := math.Sqrt(square(e*u["f0"]) + square((1-e)*u["fc"]) + square((h.F0-h.FC)*t*e*u["k"]))
			line.Band = append(line.Band, figure.Range{X: at, Low: unit.of(max(0, v-d)), High: unit.of(v + d)})
		}
	}
	return line, true
}

func square(v float64) float64 { return v * v }
