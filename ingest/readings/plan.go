package readings

import (
	"fmt"
	"strconv"
	"sync"

	"sheetwash/analysis/experiment"
	"sheetwash/ingest/issue"
	"sheetwash/ingest/mapping"
	"sheetwash/ingest/table"
)

// tableName is the table of the data dictionary that findings name.
const tableName = "readings"

// plan is what all workers share: where each of our columns comes from. It does
// not change during a scan.
type plan struct {
	file                     string
	comma                    bool
	opt                      Options
	run, plot, channel, unit *mapping.Binding // nil: not there
	time                     timeColumn
	values                   []valueColumn
	valueUnit                string // that the header of a long value column names
	spare                    sync.Pool
}

type timeColumn struct {
	special
	conversion
}

// valueColumn is a column of values: the one of long readings, or one of
// several that each hold a channel.
type valueColumn struct {
	special
	wide    bool
	channel experiment.Channel
	unitOf
}

func newPlan(bound *mapping.Bound, opt Options) (*plan, error) {
	if opt.BinMin == 0 {
		opt.BinMin = DefaultBinMin
	}
	if opt.MaxBins == 0 {
		opt.MaxBins = DefaultMaxBins
	}
	if opt.MaxSeries == 0 {
		opt.MaxSeries = DefaultMaxSeries
	}
	opt.Workers = max(1, opt.Workers)
	p := &plan{file: bound.Source.File(), comma: bound.Source.DecimalComma(), opt: opt}
	p.spare.New = func() any { return &partials{} }
	for i := range bound.Bindings {
		b := &bound.Bindings[i]
		if err := p.bind(b); err != nil {
			return nil, fmt.Errorf("readings column %s: %w", b.Name, err)
		}
	}
	if p.run == nil || p.time.binding == nil || len(p.values) == 0 || !p.values[0].wide && p.channel == nil {
		return nil, ErrBinding
	}
	return p, nil
}

// bind gives one binding its role. Columns without one are passed over.
func (p *plan) bind(b *mapping.Binding) error {
	if b.Channel != "" {
		channel, ok := experiment.ParseChannel(b.Channel)
		if !ok {
			return fmt.Errorf("%w: channel %q", ErrBinding, b.Channel)
		}
		conv, err := b.Unit.To(b.Canonical)
		if err != nil {
			return err
		}
		p.values = append(p.values, valueColumn{special: newSpecial(b, p.comma), wide: true, channel: channel,
			unitOf: unitOf{looked: true, known: true, volumeRate: isVolumeRate(channel, b), conversion: newConversion(conv)}})
		return nil
	}
	switch b.Name {
	case "run":
		p.run = b
	case "plot":
		p.plot = b
	case "channel":
		p.channel = b
	case "unit":
		p.unit = b
	case "value":
		p.valueUnit = b.Unit.Code
		p.values = append(p.values, valueColumn{special: newSpecial(b, p.comma)})
	case "time":
		conv, err := b.Unit.To(b.Canonical)
		if err != nil {
			return err
		}
		p.time = timeColumn{special: newSpecial(b, p.comma), conversion: newConversion(conv)}
	}
	return nil
}

// isVolumeRate reports whether a wide rate column holds volume per time.
func isVolumeRate(c experiment.Channel, b *mapping.Binding) bool {
	return (c == experiment.RunoffRate || c == experiment.DrainageRate) && b.Canonical.Code == "mL/min"
}

// take returns empty partials, give takes them back.
func (p *plan) take() *partials {
	out := p.spare.Get().(*partials)
	out.reset()
	return out
}

func (p *plan) give(res *partials) { p.spare.Put(res) }

func (p *plan) header(b *mapping.Binding) string {
	if b == nil {
		return ""
	}
	return b.Header
}

func (p *plan) issue(code issue.Code, severity issue.Severity, row int64, column, value, message string) issue.Issue {
	return issue.Issue{Code: code, Severity: severity, File: p.file, Table: tableName, Row: row, Column: column, Value: value, Message: message}
}

// rowFault reports an error in row i of a batch, with the line where it is not the row.
func (p *plan) rowFault(out *partials, b *table.Batch, i int, code issue.Code, column, value, message string) {
	if line := b.Line(i); line > 0 {
		message += " (line " + strconv.FormatInt(line, 10) + " of the file)"
	}
	out.issues.Add(p.issue(code, issue.Error, b.Row(i), column, value, message))
}

// badNumber reports a value that is none.
func (p *plan) badNumber(out *partials, b *table.Batch, i int, column, text string, fault table.NumberFault) {
	if fault == table.NumberSyntax {
		p.rowFault(out, b, i, CodeNotNumber, column, text, "the value is not a number; correct it, leave the cell empty, or list the word as missing in the mapping")
		return
	}
	p.rowFault(out, b, i, CodeNotFinite, column, text, "the value "+fault.String()+"; correct it, leave the cell empty, or list the word as missing in the mapping")
}

// duplicate warns of a time that a series has twice in a row.
func (p *plan) duplicate(out *partials, row int64, t float64) {
	out.issues.Add(p.issue(CodeDuplicateTime, issue.Warning, row, p.time.binding.Header, strconv.FormatFloat(t, 'g', 6, 64)+" min",
		"the reading has the same run, plot, channel and time as the one before it; both are kept"))
}

// cellText returns the text of a bound cell, for a finding.
func (p *plan) cellText(b *table.Batch, from *mapping.Binding, i int) string {
	if from.Source < 0 {
		return from.Constant
	}
	return string(appendCell(nil, &b.Cols[from.Source], i))
}
