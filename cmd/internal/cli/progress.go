package cli

import (
	"fmt"
	"sync"

	"github.com/schollz/progressbar/v3"
)

// progress draws a bar on a terminal while long work goes on. Elsewhere it does
// nothing.
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
	if p.s.quiet || p.s.json || total < 2 || !isTerminal(p.s.err) {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.bar == nil || p.now != what {
		p.clear()
		p.now = what
		p.bar = progressbar.NewOptions(total,
			progressbar.OptionSetWriter(p.s.err),
			progressbar.OptionSetDescription(fmt.Sprintf("%-9s", what)),
			progressbar.OptionSetWidth(30),
			progressbar.OptionShowCount(),
			progressbar.OptionClearOnFinish(),
		)
	}
	_ = p.bar.Set(done) // a bar that can't be drawn is no reason to stop
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
