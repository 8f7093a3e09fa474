package words

import (
	"fmt"
	"strings"

	"sheetwash/analysis/quantity"
	"sheetwash/analysis/result"
	"sheetwash/api/report"
)

// Amounts of water and soil over an area, for sentences. One inch of water on an
// acre is 27 154 US gallons; 1 g/m2 is 0.01 t/ha.
const (
	gallonsPerAcreInch = 27154.2857
	tonnesPerHaPerGM2  = 0.01
	litresPerM2PerMM   = 1
)

// Piece is a stretch of a sentence. One that is a number of the results has the
// row it comes from, its column there, and the unit in which it is said.
type Piece struct {
	Text   string
	Row    *result.TreatmentRow // nil: words alone
	Column string               // value, low, high or n_plots
	Unit   string
	Name   bool // the name of the treatment
}

// Sentence is a sentence in pieces.
type Sentence []Piece

// String joins the pieces.
func (s Sentence) String() string {
	var b strings.Builder
	for _, p := range s {
		b.WriteString(p.Text)
	}
	return b.String()
}

func (s *Sentence) say(text string) { *s = append(*s, Piece{Text: text}) }

func (s *Sentence) number(text string, row *result.TreatmentRow, column, unit string) {
	*s = append(*s, Piece{Text: text, Row: row, Column: column, Unit: unit})
}

// Amounts are the rows of one treatment that a sentence tells of; nil: not known.
type Amounts struct {
	Rain, Runoff, SoilLoss, TimeToRunoff *result.TreatmentRow
}

// AmountsOf finds the headline rows of a treatment in a scope.
func AmountsOf(rows []result.TreatmentRow, scope, treatment string) Amounts {
	var a Amounts
	at := map[result.Metric]**result.TreatmentRow{
		result.RainDepth: &a.Rain, result.RunoffDepth: &a.Runoff, result.SoilLoss: &a.SoilLoss, result.TimeToRunoff: &a.TimeToRunoff,
	}
	for i := range rows {
		r := &rows[i]
		if slot := at[r.Metric]; slot != nil && *slot == nil && r.Headline && r.Scope == scope && r.Treatment == treatment {
			*slot = r
		}
	}
	return a
}

// teller says amounts in one system of units.
type teller struct {
	units report.Units
	Sentence
}

// Water tells in one sentence what became of the rain on a treatment. It is empty
// where rain or runoff is not known.
func Water(units report.Units, treatment string, a Amounts) Sentence {
	return tell(units, treatment, a, false)
}

// WithUncertainty is Water with how far the runoff may be off, in words, and the
// time after which runoff began.
func WithUncertainty(units report.Units, treatment string, a Amounts) Sentence {
	return tell(units, treatment, a, true)
}

func tell(units report.Units, treatment string, a Amounts, uncertainty bool) Sentence {
	if !known(a.Rain) || !known(a.Runoff) {
		return nil
	}
	rain, word, err := units.Convert(a.Rain.Value.V, "mm")
	if err != nil {
		return nil
	}
	runoff, _, err := units.Convert(a.Runoff.Value.V, "mm")
	if err != nil {
		return nil
	}
	t := &teller{units: units}
	t.Sentence = Sentence{{Text: treatment, Name: true}}
	t.say(": of ")
	t.number(depth(rain), a.Rain, "value", word)
	t.say(" " + word + " of rain ")
	nothing := a.Runoff.Value.V <= 0 || depth(runoff) == "0.00"
	switch {
	case nothing && a.Runoff.Value.V > 0 && known(a.TimeToRunoff) && !bound(a.TimeToRunoff):
		t.say("almost nothing ran off")
	case nothing:
		t.say("nothing ran off")
	default:
		t.number(depth(runoff), a.Runoff, "value", word)
		t.say(" " + word + " ran off")
	}
	if uncertainty {
		t.doubt(a.Runoff, nothing)
	}
	if !nothing {
		t.say(", ")
		t.water(a.Runoff)
		if known(a.SoilLoss) {
			t.soil(a.SoilLoss)
		}
	}
	if uncertainty {
		t.onset(a.TimeToRunoff, nothing)
	}
	t.say(".")
	return t.Sentence
}

func known(r *result.TreatmentRow) bool { return r != nil && r.Value.OK }

// doubt says in words how far the runoff of the treatment may lie from what was
// measured.
func (t *teller) doubt(r *result.TreatmentRow, nothing bool) {
	count := func() {
		t.number(fmt.Sprint(r.NPlots), r, "n_plots", "1")
		t.say(" plots")
	}
	switch {
	case r.NPlots == 1:
		t.say(" (one plot, so that nothing tells how much another would differ)")
	case r.NPlots > 1 && nothing:
		t.say(" on any of ")
		count()
	case r.Low.OK && r.High.OK:
		low, word, err1 := t.units.Convert(r.Low.V, r.Unit)
		high, _, err2 := t.units.Convert(r.High.V, r.Unit)
		if err1 != nil || err2 != nil {
			return
		}
		if low <= 0 {
			t.say(" (likely below ")
		} else {
			t.say(" (likely between ")
			t.number(depth(low), r, "low", word)
			t.say(" and ")
		}
		t.number(depth(high), r, "high", word)
		t.say(" " + word + ", judged from ")
		count()
		t.say(")")
	case r.NPlots > 1:
		t.say(" (")
		count()
		t.say(", too few to say how far off that may be)")
	}
}

// onset says after how long runoff began.
func (t *teller) onset(r *result.TreatmentRow, nothing bool) {
	if !known(r) {
		return
	}
	switch {
	case bound(r) && !nothing:
		return // a trace ran off, and nobody saw it begin
	case bound(r):
		t.say(" within ")
		t.number(minutes(r.Value.V), r, "value", r.Unit)
		t.say(" min")
	case r.NPlots == 1 && r.NCensored == 0:
		t.say("; runoff began after ")
		t.number(minutes(r.Value.V), r, "value", r.Unit)
		t.say(" min")
	default:
		t.say("; runoff began after ")
		t.number(minutes(r.Value.V), r, "value", r.Unit)
		t.say(" min on average")
		if r.NCensored > 0 {
			t.say(", plots that never ran off counted with the time of rain")
		}
	}
}

// bound reports whether no plot began to run off, so that the time is a bound.
func bound(r *result.TreatmentRow) bool {
	return r.Flags.Has("none_ran_off") || r.Flags.Has("all_censored") || r.Flags.Has("lower_bound")
}

// minutes writes a time as it is spoken of.
func minutes(v float64) string {
	if v >= 9.95 {
		return To(v, 0)
	}
	return To(v, 1)
}

// depth writes a depth as it is spoken of: one decimal below 10, none above, two
// below a tenth.
func depth(v float64) string {
	switch {
	case v >= 9.95:
		return fmt.Sprintf("%.0f", v)
	case v >= 0.095:
		return fmt.Sprintf("%.1f", v)
	}
	return fmt.Sprintf("%.2f", v)
}

// water is an amount of runoff over the land.
func (t *teller) water(r *result.TreatmentRow) {
	if t.units == report.US {
		in, _, err := t.units.Convert(r.Value.V, "mm")
		if err != nil {
			return
		}
		t.number(Grouped(in*gallonsPerAcreInch), r, "value", "gal/acre")
		t.say(" gallons per acre")
		return
	}
	t.number(Significant(r.Value.V*litresPerM2PerMM, 2), r, "value", "L/m2")
	t.say(" litres per square metre")
}

// soil is an amount of sediment lost over the land.
func (t *teller) soil(r *result.TreatmentRow) {
	t.say(", and took ")
	if t.units == report.US {
		tons, _, err := t.units.Convert(r.Value.V, "g/m2")
		if err != nil {
			return
		}
		t.number(Significant(tons, 2), r, "value", "ton/acre")
		t.say(" tons of sediment per acre with it")
		return
	}
	t.number(Significant(r.Value.V*tonnesPerHaPerGM2, 2), r, "value", "t/ha")
	t.say(" tonnes of sediment per hectare with it")
}

// UncertaintyOf returns the standard uncertainty that rounds a treatment's
// statistic: a quarter of its interval, else that of the measurement.
func UncertaintyOf(r *result.TreatmentRow) quantity.Optional {
	if r.Low.OK && r.High.OK && r.High.V > r.Low.V {
		return quantity.Some((r.High.V - r.Low.V) / 4)
	}
	return r.UMeasurement
}
