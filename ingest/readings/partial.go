package readings

import (
	"fmt"
	"math"

	"sheetwash/analysis/experiment"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/table"
)

// largest is the most that a reading may be in the channel's unit: its sums have
// to stay finite.
const largest = 1e100

// local is a series as one worker knows it.
type local struct {
	run, plot  string
	channel    experiment.Channel
	volumeRate bool
	global     int32 // position in the store; -1: not yet looked up; owned by whoever commits
	batch      int64 // the batch that slot belongs to; owned by the worker
	slot       int32 // position among the series of that batch
}

// partial is one bin of one series as far as one batch goes. Its index is that
// of the narrowest bins.
type partial struct {
	series int32
	bin    experiment.Bin
}

// stretch is what a batch says of one series besides its bins.
type stretch struct {
	local             *local
	n                 int64
	firstMin, lastMin float64 // earliest and latest time
	first, last       float64
	firstRow          int64   // of the earliest time
	row               int64   // first in the file
	openMin, closeMin float64 // times of the first and the last row
	bin, highest      int32   // of the last row, and the highest so far
	at                int32   // partial of bin
}

// partials is what one batch comes to.
type partials struct {
	series      []stretch
	bins        []partial
	issues      issue.List
	rows, empty int64
	before      int64  // readings before the start of rain
	beforeRow   int64  // the first of them
	defaults    uint32 // channels whose own unit was taken, as bits
}

func (p *partials) reset() {
	*p = partials{series: p.series[:0], bins: p.bins[:0]}
}

// add adds the readings of one column of values to the partials of the batch.
func (w *worker) add(out *partials, b *table.Batch, from, k int) {
	v := &w.p.values[k]
	vals, valid, times := w.vals[k], w.valid[k], w.times
	var lastKey uint64
	var at int32 = -1 // series of lastKey in the batch
	lastChannel, lastUnit := int32(-1), int32(-1)
	channel, convert := v.channel, &v.unitOf
	for i, sound := range w.sound {
		if !sound || valid[i] != present {
			continue
		}
		if !v.wide && (w.chans[i] != lastChannel || w.units[i] != lastUnit) {
			var ok bool
			if channel, convert, ok = w.meaning(out, b, from, i); !ok {
				lastChannel = -1
				continue
			}
			lastChannel, lastUnit = w.chans[i], w.units[i]
		}
		value := convert.apply(vals[i])
		if !(math.Abs(value) <= largest) {
			w.p.badNumber(out, b, from+i, v.binding.Header, w.p.cellText(b, v.binding, from+i), table.NumberRange)
			continue
		}
		key := uint64(w.runs[i])<<40 | uint64(w.plots[i])<<16 | uint64(channel)<<1
		if convert.volumeRate {
			key |= 1
		}
		if at < 0 || key != lastKey {
			at = w.stretchOf(out, key, i, channel, convert.volumeRate)
			lastKey = key
			if out.series[at].n == 0 {
				out.series[at].open(b.Row(from+i), times[i], value)
			}
		}
		w.reading(out, b, from+i, at, times[i], value)
	}
}

// reading adds one reading, that of row i of the batch, to a series.
func (w *worker) reading(out *partials, b *table.Batch, i int, series int32, t, value float64) {
	s := &out.series[series]
	if t == s.closeMin && s.n > 0 {
		w.p.duplicate(out, b.Row(i), t)
	}
	s.closeMin = t
	s.n++
	if t < s.firstMin {
		s.firstMin, s.first, s.firstRow = t, value, b.Row(i)
	}
	if t >= s.lastMin {
		s.lastMin, s.last = t, value
	}
	if t < 0 {
		if out.before++; out.beforeRow == 0 {
			out.beforeRow = b.Row(i)
		}
	}
	width := w.p.opt.BinMin
	index := int32(math.Floor(t / width))
	if index != s.bin || s.at < 0 {
		w.turnTo(out, s, series, index)
	}
	bin := &out.bins[s.at].bin
	dt := t - float64(index)*width
	bin.N++
	bin.SumT += dt
	bin.SumV += value
	bin.SumTT += dt * dt
	bin.SumTV += dt * value
}

func (s *stretch) open(row int64, t, value float64) {
	s.row, s.firstRow = row, row
	s.firstMin, s.lastMin, s.openMin = t, t, t
	s.first, s.last = value, value
}

// meaning returns the channel of row i and what to do with its unit.
func (w *worker) meaning(out *partials, b *table.Batch, from, i int) (experiment.Channel, *unitOf, bool) {
	word := w.chans[i]
	if w.channelOf[word] < 0 {
		w.p.rowFault(out, b, from+i, CodeUnknownChannel, w.p.channel.Header, w.channel.texts[word],
			"not a channel of the data dictionary; translate it in the mapping or remove the row")
		return 0, nil, false
	}
	channel := experiment.Channel(w.channelOf[word])
	u := w.unitFor(channel, w.units[i])
	if !u.known {
		header := ""
		if w.p.unit != nil {
			header = w.p.unit.Header
		}
		w.p.rowFault(out, b, from+i, CodeUnknownUnit, header, w.unit.texts[w.units[i]],
			fmt.Sprintf("the unit is unknown or does not suit %s; give a UCUM code of the same dimension as the channel's own", channel))
		return 0, nil, false
	}
	if w.units[i] == 0 && w.p.valueUnit == "" {
		out.defaults |= 1 << channel
	}
	return channel, u, true
}

// stretchOf returns the position of a series among those of the batch.
func (w *worker) stretchOf(out *partials, key uint64, i int, channel experiment.Channel, volumeRate bool) int32 {
	n := w.byKey.get(key)
	if n < 0 {
		n = int32(len(w.locals))
		w.locals = append(w.locals, &local{run: w.run.texts[w.runs[i]], plot: w.plot.texts[w.plots[i]],
			channel: channel, volumeRate: volumeRate, global: -1})
		w.byKey.put(key, n)
	}
	l := w.locals[n]
	if l.batch != w.batches {
		l.batch, l.slot = w.batches, int32(len(out.series))
		out.series = append(out.series, stretch{local: l, at: -1})
	}
	return l.slot
}

// turnTo makes index the current bin of a series.
func (w *worker) turnTo(out *partials, s *stretch, series, index int32) {
	key := uint64(series)<<32 | uint64(uint32(index))
	at := int32(-1)
	if s.at >= 0 && index <= s.highest {
		at = w.bins.get(key)
	}
	if at < 0 {
		at = int32(len(out.bins))
		out.bins = append(out.bins, partial{series: series, bin: experiment.Bin{Index: index}})
		w.bins.put(key, at)
	}
	if s.at < 0 || index > s.highest {
		s.highest = index
	}
	s.bin, s.at = index, at
}
