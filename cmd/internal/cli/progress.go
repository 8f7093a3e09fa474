package cli

import (
	"fmt"
	"sync"

	"github.com/schollz/progressbar/v3"
)

// progress draws a bar on a terminal while work goes on, or something that turns
// where there is one dataset only. Elsewhere it does nothing.
type progress struct {
	s   *streams
	mu  sync.Mutex
	bar *progressbar.ProgressBar
	now string
}

func newProgress(s *streams) *progress { return &progress{s: s} }

// reading and analysing report how many datasets are done.
func (p *progress) reading(done, total int)   { p.step("reading", done, total) }
func (p *progress) analysing(done, total int) { p.step("analysing", done, total) }

func (p *progress) step(what string, done, total int) {
	if p.s.quiet || p.s.json || total == 0 || !isTerminal(p.s.err) {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.bar == nil || p.now != what {
		p.clear()
		p.now = what
		options := []progressbar.Option{
			progressbar.OptionSetWriter(p.s.err),
			progressbar.OptionSetDescription(fmt.Sprintf("%-9s", what)),
			progressbar.OptionSetWidth(30),
			progressbar.OptionClearOnFinish(),
		}
		if total > 1 {
			p.bar = progressbar.NewOptions(total, append(options, progressbar.OptionShowCount())...)
		} else {
			p.bar = progressbar.NewOptions(-1, options...)
		}
	}
	if total > 1 {
		_ = p.bar.Set(done) // a bar that can't be drawn is no reason to stop
	} else {
		_ = p.bar.RenderBlank()
	}
}

// finish takes the bar away.
func (p *progress) finish() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.clear()
}

func (p *progress) clear() {
	if p.bar != nil {
		_ = p.bar.Clear()
		p.bar = nil
	}
}
