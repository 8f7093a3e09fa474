// Package loggerfile writes invented logger files of any size, the same bytes
// for the same layout, so that benchmarks and tests of the readings have
// something to read and know what is in it. Nothing in the program calls it.
package loggerfile

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
)

// Header is the first line of a file. The last two columns are no readings:
// loggers write such columns, and nothing asks for them.
const Header = "run,plot,time,channel,value,unit,logger,battery\n"

// Layout says what a file holds.
type Layout struct {
	Rows      int  // in all
	PerPlot   int  // readings of a plot, 1 s apart; 0: 3600
	PerRun    int  // plots of a run; 0: 8
	TimeMajor bool // all plots of one second, then the next, as one logger for all of them would write
}

func (l Layout) withDefaults() Layout {
	if l.PerPlot == 0 {
		l.PerPlot = 3600
	}
	if l.PerRun == 0 {
		l.PerRun = 8
	}
	return l
}

// Plots returns how many plots the file has.
func (l Layout) Plots() int {
	l = l.withDefaults()
	return (l.Rows + l.PerPlot - 1) / l.PerPlot
}

// Write writes the file.
func Write(w io.Writer, l Layout) error {
	l = l.withDefaults()
	out := bufio.NewWriterSize(w, 1<<18)
	out.WriteString(Header)
	plots := l.Plots()
	names := make([]string, plots)
	for p := range names {
		names[p] = fmt.Sprintf("PF-2031-%03d,P%d,", p/l.PerRun+1, p%l.PerRun+1)
	}
	var line []byte
	for i := range l.Rows {
		plot, second := i/l.PerPlot, i%l.PerPlot
		if l.TimeMajor {
			plot, second = i%plots, i/plots
		}
		line = appendRow(line[:0], names[plot], plot, second)
		if _, err := out.Write(line); err != nil {
			return fmt.Errorf("write logger file: %w", err)
		}
	}
	if err := out.Flush(); err != nil {
		return fmt.Errorf("write logger file: %w", err)
	}
	return nil
}

// appendRow appends the reading of one plot at one second: runoff mass that
// begins after a few minutes and grows at a steady rate, with noise of 0.5 g.
func appendRow(line []byte, name string, plot, second int) []byte {
	line = append(line, name...)
	line = strconv.AppendInt(line, int64(second), 10)
	line = append(line, ",runoff_mass,"...)
	line = appendHundredths(line, MassCentigrams(plot, second))
	line = append(line, ",g,amber-0"...)
	line = append(line, byte('1'+plot%8))
	line = append(line, ',')
	line = appendHundredths(line, 1261-second/100)
	return append(line, '\n')
}

// MassCentigrams returns the runoff mass of a reading in hundredths of a gram.
func MassCentigrams(plot, second int) int {
	start := 180 + plot%7*40
	noise := int(mix(uint64(plot)<<32|uint64(second))%101) - 50
	return max(0, (second-start)*(700+plot%13*35)/10) + 120 + noise
}

// mix scatters the bits of x (the finalizer of Steele, Lea and Flood 2014).
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

func appendHundredths(line []byte, v int) []byte {
	line = strconv.AppendInt(line, int64(v/100), 10)
	return append(line, '.', byte('0'+v/10%10), byte('0'+v%10))
}
