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
	used  *list.List // the most recent first
}

type kept struct {
	tag, links string
	body       []byte
}

func newPages(most int) *pages {
	return &pages{most: most, byTag: map[string]*list.Element{}, used: list.New()}
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

func (p *pages) put(tag string, body []byte, links string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if _, ok := p.byTag[tag]; ok || len(body) > p.most/8 {
		return
	}
	p.byTag[tag] = p.used.PushFront(&kept{tag, links, body})
	for p.bytes += len(body); p.bytes > p.most; {
		last := p.used.Back()
		k := p.used.Remove(last).(*kept)
		delete(p.byTag, k.tag)
		p.bytes -= len(k.body)
	}
}
