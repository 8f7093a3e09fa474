package page

import (
	"fmt"
	"slices"
	"strings"

	"sheetwash/analysis/result"
	"sheetwash/api/report/words"
)

// runDocument is the page of a run: each plot with its courses, its numbers by all
// methods, and its bottles.
func (s *Site) runDocument(r *run) (*document, error) {
	flags := flagsOf{}
	d := &document{
		Title: "Run " + r.target.Run + ", " + r.target.Event, Kicker: strings.Join(nonempty("Run", r.target.Event, r.target.Season), " · "), Heading: r.target.Run,
		Lines: []phrase{s.runLine(r)}, Nav: s.runNav(r),
	}
	for i := range r.plots {
		sec, err := s.plotSection(r, &r.plots[i], i, flags)
		if err != nil {
			return nil, err
		}
		d.Sections = append(d.Sections, sec)
	}
	d.Flags = flags.list()
	d.Colophon = s.colophon([]string{r.target.Dataset})
	return d, nil
}

// runLine tells with what rain.
func (s *Site) runLine(r *run) phrase {
	texts := []string{}
	if f := r.facts; f != nil {
		start := ""
		if !f.Started.IsZero() {
			start = f.Started.Format("2 January 2006, 15:04")
		}
		intensity := s.noted(f.IntensityMMH, "mm/h", "[in_i]/h", "in/h", "mm/h")
		if intensity != "" {
			intensity += " for " + noted(f.RainMin) + " min"
		}
		sequence := f.Sequence
		if sequence != "" {
			sequence += " run"
		}
		texts = nonempty(start, intensity, sequence, f.Simulator, f.Crew, f.Note)
	}
	return facts(append(texts, count(len(r.plots), "plot"), "dataset "+r.target.Dataset)...)
}

func (s *Site) runNav(r *run) []phrase {
	var out []phrase
	for _, t := range []struct {
		target Target
		text   string
	}{{Target{Kind: SeasonPage}, "The whole season"}, {Target{Kind: EventPage, Season: r.target.Season, Event: r.target.Event}, "The field day " + r.target.Event}} {
		if s.link(t.target) != "" {
			out = append(out, s.to(t.target, t.text))
		}
	}
	for i := range r.plots {
		out = append(out, phrase{{Text: "Plot " + r.plots[i].Plot, Href: fmt.Sprintf("#plot-%d", i+1)}})
	}
	return out
}

// plotSection shows one plot.
func (s *Site) plotSection(r *run, p *plot, n int, flags flagsOf) (section, error) {
	id := fmt.Sprintf("plot-%d", n+1)
	sec := section{ID: id, Heading: "Plot " + p.Plot + ": " + s.label(p.Subject), Pair: true}
	if p.Excluded {
		reason := "set aside in the data"
		if p.facts != nil && p.facts.ExcludeReason != "" {
			reason = p.facts.ExcludeReason
		}
		sec.Intro = append(sec.Intro, fact("Left out of the treatment means: "+reason+"."))
	}
	sec.Intro = append(sec.Intro, s.plotSentence(p))
	charts, err := s.plotCharts(r, p, id)
	if err != nil {
		return sec, err
	}
	sec.Charts = charts
	sec.Tables = append(sec.Tables, s.metricsTable(p, id, flags))
	if len(p.fits) > 0 {
		sec.Tables = append(sec.Tables, s.fitsTable(p, id, flags))
	}
	for _, c := range p.courses {
		sec.Tables = append(sec.Tables, s.bottleTable(c, id, flags))
	}
	return sec, nil
}

// plotSentence tells the plot in one sentence.
func (s *Site) plotSentence(p *plot) phrase {
	rain, runoff, onset := p.row(result.RainDepth), p.row(result.RunoffDepth), p.row(result.TimeToRunoff)
	if !known(rain) || !known(runoff) {
		return say("Rain or runoff of this plot is not known.")
	}
	unit := " " + s.scaleOf(result.RainDepth, "mm").name()
	out := join(say("Of "), s.value(rain), say(unit+" of rain "), s.value(runoff), say(unit+" ran off"))
	if share := p.row(result.RunoffCoefficient); known(share) {
		out = join(out, say(", "), s.value(share), say(" %"))
	}
	switch {
	case known(onset) && onset.Censored == result.Right:
		out = join(out, say("; time to runoff: "), s.value(onset), say(" min"))
	case known(onset):
		out = join(out, say("; runoff began after "), s.value(onset), say(" min"))
	}
	return join(out, say(".")).bare()
}

// metricsTable holds every metric by every method.
func (s *Site) metricsTable(p *plot, id string, flags flagsOf) table {
	t := table{ID: id + "-numbers", Caption: "Plot " + p.Plot + ": every number by every method; a star marks the one that the statistics use",
		Head: []string{"Quantity", "Method", "Value", "Uncertainty (standard)", "Interval", "Unit", "Readings", "Remarks"}}
	for i := range p.rows {
		q := &p.rows[i]
		c, key := s.scaleOf(q.Metric, q.Unit), q.Key()
		name := string(q.Metric)
		if info, ok := q.Metric.Info(); ok {
			name = info.Name
		}
		star := ""
		if q.Headline {
			star = " ★"
		}
		value, u, interval := say(absent(q.Flags)), say("–"), say("–")
		if q.Value.OK {
			value = s.value(q)
			if b := s.bounds(key, c, q.Low, q.High, q.U); b != nil {
				interval = b
			}
			if q.U.OK && q.U.V > 0 {
				u = phrase{s.number(key, "u", c, q.U.V, q.U)}
			}
		}
		t.Rows = append(t.Rows, []phrase{say(name + star), fact(methodWord(q.Method)), value, u, interval, fact(c.name()),
			{{Text: fmt.Sprint(q.N), Key: key, Col: "n_used", Unit: "1"}}, code(flags.add(q.Flags))})
	}
	return t
}

// fitsTable holds the parameters of the fitted curves.
func (s *Site) fitsTable(p *plot, id string, flags flagsOf) table {
	t := table{ID: id + "-fits", Caption: "Plot " + p.Plot + ": parameters of the infiltration curves", Folded: true,
		Head: []string{"Model", "Parameter", "Value", "Interval", "Unit", "Weight", "Remarks"}}
	for i := range p.fits {
		f := &p.fits[i]
		c, key := s.scaleOf("", f.Unit), f.Key()
		value, interval, weight := say("–"), say("–"), say("–")
		if f.Value.OK {
			value = phrase{s.number(key, "value", c, f.Value.V, f.U)}
		}
		if b := s.bounds(key, c, f.Low, f.High, f.U); b != nil {
			interval = b
		}
		if f.Weight.OK {
			weight = phrase{{Text: words.Significant(f.Weight.V, 3), Key: key, Col: "weight", Unit: "1"}}
		}
		t.Rows = append(t.Rows, []phrase{fact(methodWord(f.Model)), fact(f.Parameter), value, interval, fact(c.name()), weight, code(flags.add(f.Flags))})
	}
	return t
}

// bottleTable holds the intervals of a stream.
func (s *Site) bottleTable(c *result.Course, id string, flags flagsOf) table {
	volume, rate, depth := s.scaleOf("", "mL"), s.scaleOf("", "mm/h"), s.scaleOf("", "mm")
	t := table{ID: id + "-" + c.Stream, Caption: "Plot " + c.Plot + ": " + c.Stream + ", bottle by bottle", Folded: true, Wide: true,
		Head: []string{"From, min", "To, min", "Volume, " + volume.name(), "Rate, " + rate.name(), "± (standard)", "Sum, " + depth.name(), "Infiltration, " + rate.name(), "Sediment, g/L", "Remarks"}}
	for i := range c.Steps {
		st := &c.Steps[i]
		key := c.StepKey(st)
		n := func(col string, sc scale, v float64) phrase {
			if !finite(v) {
				return say("–")
			}
			return phrase{{Text: words.Significant(sc.of(v), 3), Key: key, Col: col, Unit: sc.word}}
		}
		time := func(col string, v float64) phrase {
			return phrase{{Text: words.Figure(v, 6), Key: key, Col: col, Unit: "min"}}
		}
		byRate := func(col string, v float64) phrase {
			if !finite(v) {
				return say("–")
			}
			if finite(st.URateMMH) && st.URateMMH > 0 {
				return phrase{{Text: words.To(rate.of(v), words.Decimals(rate.of(st.URateMMH))), Key: key, Col: col, Unit: rate.word}}
			}
			return n(col, rate, v)
		}
		infiltration, sediment := say("–"), say("–")
		if st.InfiltrationMMH.OK {
			infiltration = byRate("infiltration_mm_h", st.InfiltrationMMH.V)
		}
		if st.ConcentrationGL.OK {
			sediment = n("concentration_g_l", s.scaleOf("", "g/L"), st.ConcentrationGL.V)
		}
		t.Rows = append(t.Rows, []phrase{time("start_min", st.StartMin), time("end_min", st.EndMin), n("volume_ml", volume, st.VolumeML),
			byRate("rate_mm_h", st.RateMMH), byRate("u_rate_mm_h", st.URateMMH), n("cumulative_mm", depth, st.CumulativeMM), infiltration, sediment, code(flags.add(st.Flag))})
	}
	return t
}

// course returns the course of a stream, nil where there is none.
func (p *plot) course(stream string) *result.Course {
	if i := slices.IndexFunc(p.courses, func(c *result.Course) bool { return c.Stream == stream }); i >= 0 {
		return p.courses[i]
	}
	return nil
}
