package api

import (
	"container/list"
	"sync"
)

// pages remembers answers that follow from their tag alone: pages of tables that
// never change. The least used go when it is full.
type pages struct {
	mu    sync.Mutex
	most  int // bytes
	bytes int
	byTag map[string]*list.Element
	byAsk map[string]*ready // by what was asked, word for word
	used  *list.List        // the most recent first
}

type kept struct {
	tag, links string
	body       []byte
	ready      []*ready // its entries in byAsk
}

// mostAsked bounds the ways of asking for one page that are remembered.
const mostAsked = 4

func newPages(most int) *pages {
	return &pages{most: most, byTag: map[string]*list.Element{}, byAsk: map[string]*ready{}, used: list.New()}
}

func (p *pages) get(tag string) (body []byte, links string, ok bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	e, ok := p.byTag[tag]
	if !ok {
		return nil, "", false
	}
	p.used.MoveToFront(e)
	k := e.Value.(*kept)
	return k.body, k.links, true
}

// asked returns what is ready for a request that was answered before.
func (p *pages) asked(request []byte) (*ready, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	r, ok := p.byAsk[string(request)]
	if !ok {
		return nil, false
	}
	p.used.MoveToFront(r.of)
	return r, true
}

// remember keeps what is ready for a request with the page of a tag.
func (p *pages) remember(tag string, r *ready) {
	p.mu.Lock()
	defer p.mu.Unlock()
	e, ok := p.byTag[tag]
	if !ok {
		return
	}
	k := e.Value.(*kept)
	if len(k.ready) >= mostAsked || p.byAsk[r.ask] != nil {
		return
	}
	r.of = e
	k.ready, p.byAsk[r.ask] = append(k.ready, r), r
	p.grow(r.size())
}

func (p *pages) put(tag string, body []byte, links string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if _, ok := p.byTag[tag]; ok || len(body) > p.most/8 {
		return
	}
	p.byTag[tag] = p.used.PushFront(&kept{tag: tag, links: links, body: body})
	p.grow(len(body))
}

// grow counts bytes that were added, and lets the least used pages go when there
// are too many.
func (p *pages) grow(bytes int) {
	for p.bytes += bytes; p.bytes > p.most; {
		k := p.used.Remove(p.used.Back()).(*kept)
		delete(p.byTag, k.tag)
		p.bytes -= len(k.body)
		for _, r := range k.ready {
			delete(p.byAsk, r.ask)
			p.bytes -= r.size()
		}
	}
}
