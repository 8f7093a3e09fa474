package ingest

import (
	"context"
	"errors"
	"fmt"
	"time"

	"sheetwash/analysis/experiment"
	"sheetwash/analysis/quantity"
	"sheetwash/ingest/check"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/readings"
	"sheetwash/ingest/schema"
	"sheetwash/ingest/units"
)

// reduceReadings streams the tables of logger readings into series.
func (r *reading) reduceReadings(ctx context.Context, starts map[string]time.Time) error {
	channels, err := channelUnits()
	if err != nil {
		return err
	}
	opt := readings.Options{
		Workers: r.opt.Workers, BinMin: r.opt.BinMin, Unit: channels.conversion,
		Start: func(run string) (time.Time, bool) { t, ok := starts[run]; return t, ok },
	}
	for _, b := range r.tables.bounds {
		if b.Table.Name != "readings" {
			continue
		}
		reduced, err := readings.Reduce(ctx, b, opt)
		if errors.Is(err, readings.ErrBinding) {
			continue // column.missing said so
		}
		if err != nil {
			return err
		}
		r.issues.AddAll(&reduced.Issues)
		r.out.Rows += reduced.Rows
		if l := r.opt.Limits.Readings; l > 0 && reduced.Rows > l {
			r.issues.Add(issue.Issue{Code: TableTooLarge, Severity: issue.Error, File: b.Source.File(), Table: "readings",
				Message: fmt.Sprintf("the table has %d rows, more than the %d that are allowed: send the days apart", reduced.Rows, l)})
		}
		for _, s := range reduced.Series {
			r.draft.Readings = append(r.draft.Readings, check.Logged{Run: s.Run, Plot: s.Plot, Row: s.Row, Series: s.Series})
		}
	}
	return nil
}

// logged holds the canonical units of the channels.
type logged struct {
	of         map[experiment.Channel]quantity.Unit
	volumeRate quantity.Unit
}

func channelUnits() (logged, error) {
	l := logged{of: map[experiment.Channel]quantity.Unit{}}
	for _, c := range experiment.Channels() {
		code, ok := schema.ChannelUnit(c.String())
		if !ok {
			continue
		}
		u, err := quantity.Parse(code)
		if err != nil {
			return l, err
		}
		l.of[c] = u
	}
	var err error
	l.volumeRate, err = quantity.Parse("mL/min")
	return l, err
}

// conversion returns how numbers of a channel in a unit, as written, become
// canonical; rates may be volume per time as well as depth per time.
func (l logged) conversion(channel experiment.Channel, unit string) (conv quantity.Conversion, volumeRate, ok bool) {
	own, known := l.of[channel]
	if !known {
		return conv, false, false
	}
	if unit == "" {
		conv, err := own.To(own)
		return conv, false, err == nil
	}
	if r, err := units.Resolve(unit, own.Dimension()); err == nil {
		conv, err := r.Unit.To(own)
		return conv, false, err == nil
	}
	if channel != experiment.RunoffRate && channel != experiment.DrainageRate {
		return conv, false, false
	}
	r, err := units.Resolve(unit, l.volumeRate.Dimension())
	if err != nil {
		return conv, false, false
	}
	conv, err = r.Unit.To(l.volumeRate)
	return conv, true, err == nil
}
