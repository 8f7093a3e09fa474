package readings

import (
	"errors"
	"strings"
	"time"

	"sheetwash/analysis/experiment"
	"sheetwash/ingest/table"
	"sheetwash/ingest/units"
)

// farMin is the farthest a reading may lie from the start of rain, in minutes: a year.
const farMin = 366 * 24 * 60

// unitOf is the verdict on a unit for a channel.
type unitOf struct {
	looked, known, volumeRate bool
	conversion
}

// runStart is the start of a run's rain, looked up once.
type runStart struct {
	looked, ok bool
	at         time.Time
}

// worker reduces batches one at a time. What it keeps between them only saves
// work: the outcome of a batch does not depend on the batches before it.
type worker struct {
	p                         *plan
	run, plot, channel, unit  *vocabulary
	runs, plots, chans, units []int32 // per row: number of the text
	times                     []float64
	timed                     []state
	vals                      [][]float64 // per value column and row
	valid                     [][]state
	sound                     []bool     // per row: has a run and a time, and a value somewhere
	channelOf                 []int16    // per channel word: the channel; -1: none
	unitsOf                   [][]unitOf // per channel and unit word
	starts                    []runStart // per run word
	locals                    []*local   // series met so far
	byKey                     table64    // run, plot, channel to locals
	bins                      table64    // of the batch: series and bin to partial
	batches                   int64
}

func newWorker(p *plan) *worker {
	return &worker{p: p, run: newVocabulary(p.run), plot: newVocabulary(p.plot),
		channel: newVocabulary(p.channel), unit: newVocabulary(p.unit),
		vals: make([][]float64, len(p.values)), valid: make([][]state, len(p.values)),
		unitsOf: make([][]unitOf, len(experiment.Channels()))}
}

// forget drops what is remembered once there is too much of it.
func (w *worker) forget() {
	if !w.run.full() && !w.plot.full() && !w.channel.full() && !w.unit.full() && len(w.locals) < maxWords {
		return
	}
	for _, v := range []*vocabulary{w.run, w.plot, w.channel, w.unit} {
		v.forget()
	}
	w.channelOf, w.starts, w.locals = nil, nil, nil
	clear(w.unitsOf)
	w.byKey = table64{}
}

// reduce reduces one batch.
func (w *worker) reduce(b *table.Batch) *partials {
	w.forget()
	w.batches++
	w.bins.reset()
	out := w.p.take()
	out.issues.AddAll(&b.Issues)
	out.rows = int64(b.N)
	if b.N == 0 {
		return out
	}
	for from := 0; from < b.N; from += windowRows {
		w.window(out, b, from, min(windowRows, b.N-from))
	}
	return out
}

// windowRows is how many rows go through all steps at a time, so that their
// cells stay in the processor's cache from one column to the next.
const windowRows = 2048

// window reduces n rows of a batch.
func (w *worker) window(out *partials, b *table.Batch, from, n int) {
	w.size(n)
	w.run.column(w.runs, b, from)
	w.plot.column(w.plots, b, from)
	w.channel.column(w.chans, b, from)
	w.unit.column(w.units, b, from)
	w.resolveChannels()
	clear(w.sound)
	for k := range w.p.values {
		w.readValues(out, b, from, k)
	}
	w.readTimes(out, b, from)
	for k := range w.p.values {
		w.add(out, b, from, k)
	}
}

// size makes room for n rows.
func (w *worker) size(n int) {
	if cap(w.runs) < n {
		room := windowRows
		w.runs, w.plots, w.chans, w.units = make([]int32, room), make([]int32, room), make([]int32, room), make([]int32, room)
		w.times, w.timed, w.sound = make([]float64, room), make([]state, room), make([]bool, room)
		for k := range w.vals {
			w.vals[k], w.valid[k] = make([]float64, room), make([]state, room)
		}
	}
	w.runs, w.plots, w.chans, w.units = w.runs[:n], w.plots[:n], w.chans[:n], w.units[:n]
	w.times, w.timed, w.sound = w.times[:n], w.timed[:n], w.sound[:n]
	for k := range w.vals {
		w.vals[k], w.valid[k] = w.vals[k][:n], w.valid[k][:n]
	}
}

// resolveChannels looks up channel words that are new.
func (w *worker) resolveChannels() {
	for len(w.channelOf) < len(w.channel.texts) {
		word := strings.ToLower(w.channel.texts[len(w.channelOf)])
		c, ok := experiment.ParseChannel(strings.NewReplacer(" ", "_", "-", "_").Replace(word))
		if !ok {
			w.channelOf = append(w.channelOf, -1)
			continue
		}
		w.channelOf = append(w.channelOf, int16(c))
	}
}

// readValues reads one column of values and marks the rows that have one.
func (w *worker) readValues(out *partials, b *table.Batch, from, k int) {
	v := &w.p.values[k]
	valid := w.valid[k]
	v.column(w.vals[k], valid, b, from, w.p.comma, func(i int, text string, fault table.NumberFault) (float64, state) {
		w.p.badNumber(out, b, from+i, v.binding.Header, text, fault)
		return 0, faulty
	})
	empty := 0
	for i, s := range valid {
		if s == absent {
			empty++
		} else {
			w.sound[i] = true
		}
	}
	out.empty += int64(empty)
}

// readTimes reads the times of a batch in minutes and keeps the rows sound that
// have a run and a time. Rows without a value are not looked at.
func (w *worker) readTimes(out *partials, b *table.Batch, from int) {
	t := &w.p.time
	t.column(w.times, w.timed, b, from, w.p.comma, func(i int, text string, _ table.NumberFault) (float64, state) {
		return w.oddTime(out, b, from, i, text)
	})
	for i, sound := range w.sound {
		if !sound {
			continue
		}
		switch w.timed[i] {
		case present:
			w.times[i] = t.apply(w.times[i])
		case absent:
			w.p.rowFault(out, b, from+i, CodeNoTime, t.binding.Header, "", "the reading has no time; fill it in or remove the row")
			w.sound[i] = false
		case faulty:
			w.sound[i] = false
		}
		if w.runs[i] == 0 {
			w.p.rowFault(out, b, from+i, CodeNoRun, w.p.run.Header, "", "the reading has no run; fill it in or remove the row")
			w.sound[i] = false
		}
		if v := w.times[i]; !(v >= -farMin && v <= farMin) && w.sound[i] {
			w.p.rowFault(out, b, from+i, CodeTimeRange, t.binding.Header, w.p.cellText(b, t.binding, from+i),
				"the time is more than a year from the start of rain; check the unit of the column and the run's start")
			w.sound[i] = false
		}
	}
}

// oddTime reads a time that is not a plain number, in minutes.
func (w *worker) oddTime(out *partials, b *table.Batch, from, i int, text string) (float64, state) {
	if !w.sound[i] {
		return 0, absent
	}
	t := w.p.time.binding
	if !t.Clock {
		if m, ok := elapsed(text, w.p.comma); ok {
			return m, inMinutes
		}
	}
	start := w.start(w.runs[i])
	m, err := units.Time(text, units.TimeRule{Unit: t.Unit, Start: start.at, Started: start.ok, Clock: t.Clock, DecimalComma: w.p.comma})
	switch {
	case errors.Is(err, units.ErrNoStart):
		w.p.rowFault(out, b, from+i, CodeNoStart, t.Header, text, "a clock time or a stamp needs the start of the run; fill in runs.started")
	case err != nil:
		w.p.rowFault(out, b, from+i, CodeBadTime, t.Header, text, "not a time; give a number, mm:ss, h:mm:ss or an ISO 8601 stamp")
	default:
		return m, inMinutes
	}
	return 0, faulty
}

func (w *worker) start(run int32) runStart {
	for len(w.starts) < len(w.run.texts) {
		w.starts = append(w.starts, runStart{})
	}
	s := &w.starts[run]
	if !s.looked {
		s.looked = true
		if w.p.opt.Start != nil && run != 0 {
			s.at, s.ok = w.p.opt.Start(w.run.texts[run])
		}
	}
	return *s
}

// unitFor returns the verdict on a unit word for a channel.
func (w *worker) unitFor(c experiment.Channel, word int32) *unitOf {
	for len(w.unitsOf[c]) < len(w.unit.texts) {
		w.unitsOf[c] = append(w.unitsOf[c], unitOf{})
	}
	u := &w.unitsOf[c][word]
	if !u.looked {
		text := w.unit.texts[word]
		if text == "" {
			text = w.p.valueUnit
		}
		conv, volumeRate, ok := w.p.opt.Unit(c, text)
		*u = unitOf{looked: true, known: ok, volumeRate: volumeRate, conversion: newConversion(conv)}
	}
	return u
}
