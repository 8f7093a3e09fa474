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
	byAsk map[string]*list.Element // by what was asked, word for word
	used  *list.List               // the most recent first
}

type kept struct {
	tag, links string
	body       []byte
	asked      []string // its entries in byAsk
}

// mostAsked bounds the ways of asking for one page that are remembered.
const mostAsked = 4

func newPages(most int) *pages {
	return &pages{most: most, byTag: map[string]*list.Element{}, byAsk: map[string]*list.Element{}, used: list.New()}
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

// asked returns the page that was the answer to the same request before.
func (p *pages) asked(request string) (k *kept, ok bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	e, ok := p.byAsk[request]
	if !ok {
		return nil, false
	}
	p.used.MoveToFront(e)
	return e.Value.(*kept), true
}

// remember notes that a request is answered with the page of a tag.
func (p *pages) remember(request, tag string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	e, ok := p.byTag[tag]
	if !ok {
		return
	}
	if k := e.Value.(*kept); len(k.asked) < mostAsked && p.byAsk[request] == nil {
		k.asked = append(k.asked, request)
		p.byAsk[request] = e
	}
}

func (p *pages) put(tag string, body []byte, links string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if _, ok := p.byTag[tag]; ok || len(body) > p.most/8 {
		return
	}
	p.byTag[tag] = p.used.PushFront(&kept{tag: tag, links: links, body: body})
	for p.bytes += len(body); p.bytes > p.most; {
		last := p.used.Back()
		k := p.used.Remove(last).(*kept)
		delete(p.byTag, k.tag)
		for _, request := range k.asked {
			delete(p.byAsk, request)
		}
		p.bytes -= len(k.body)
	}
}
