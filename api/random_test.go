package api_test

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"
)

var (
	rounds = flag.Int("rounds", 150, "operations of the random walk over the service")
	seed   = flag.Uint64("seed", 0, "of the random walk; 0: another one each time")
)

// walk is what a caller of a service was told, and what must therefore be so.
type walk struct {
	*service
	rand     *rand.Rand
	made     int
	seasons  []string
	datasets []*walked
	analyses []*walkedAnalysis
}

type walked struct {
	id, season, name, csv string
	bottles               int
	deleted               bool
}

type walkedAnalysis struct {
	id, season, key string
	datasets        []*walked
	dismissed       bool
	tag             string // of its first page
	rows            float64
}

// Whatever is done in whatever order: nothing that was acknowledged is lost, pages sum
// to their totals, and what never changes keeps its bytes and its tag.
func TestRandomOperations(t *testing.T) {
	for *seed == 0 {
		*seed = rand.Uint64()
	}
	t.Logf("-rounds=%d -seed=%d", *rounds, *seed)
	w := &walk{service: newService(t), rand: rand.New(rand.NewPCG(*seed, 1))}
	do := []func(*walk){
		(*walk).makeSeason, (*walk).upload, (*walk).upload, (*walk).upload, (*walk).uploadAgain, (*walk).analyse, (*walk).analyse,
		(*walk).analyseAgain, (*walk).exclude, (*walk).exclude, (*walk).delete, (*walk).dismiss, (*walk).readPages, (*walk).readPages, (*walk).readSamples, (*walk).readSeason,
	}
	for round := range *rounds {
		if len(w.seasons) == 0 {
			w.makeSeason()
		}
		do[w.rand.IntN(len(do))](w)
		if t.Failed() {
			t.Fatalf("after operation %d; again with -seed=%d", round, *seed)
		}
	}
	for _, d := range w.datasets {
		w.checkDataset(d)
	}
	for _, a := range w.analyses {
		w.checkAnalysis(a)
	}
}

// one picks an element that fits; nil where none does.
func one[T any](r *rand.Rand, all []*T, fits func(*T) bool) *T {
	var some []*T
	for _, x := range all {
		if fits(x) {
			some = append(some, x)
		}
	}
	if len(some) == 0 {
		return nil
	}
	return some[r.IntN(len(some))]
}

func (w *walk) season() string { return w.seasons[w.rand.IntN(len(w.seasons))] }

func (w *walk) makeSeason() {
	if len(w.seasons) < 4 {
		w.seasons = append(w.seasons, w.service.season(fmt.Sprintf("season %d", len(w.seasons))))
	}
}

// upload sends a new dataset of one run.
func (w *walk) upload() {
	w.made++
	d := &walked{season: w.season(), name: fmt.Sprintf("day-%03d", w.made)}
	var b strings.Builder
	b.WriteString("run,event,plot,treatment,area [m2],intensity [mm/h],rain_duration [min],stream,start [min],end [min],volume [mL],sediment_mass [g]\n")
	plots, bottles := 1+w.rand.IntN(4), 3+w.rand.IntN(4)
	for plot := range plots {
		for n := range bottles {
			start := 4 + 3*n
			fmt.Fprintf(&b, "R%d,E%d,%d,T%d,0.5,70,%d,runoff,%d,%d,%d,%.2f\n", w.made, w.made, plot+1, plot%3, 4+3*bottles, start, start+3, 300+100*n+w.rand.IntN(90), 1+w.rand.Float64())
		}
	}
	d.csv, d.bottles = b.String(), plots*bottles
	d.id = w.post("/v1/datasets?season="+d.season+"&name="+d.name, d.csv, "Content-Type: text/csv").want(201).id()
	w.datasets = append(w.datasets, d)
}

// uploadAgain sends bytes that are there.
func (w *walk) uploadAgain() {
	if d := one(w.rand, w.datasets, func(d *walked) bool { return !d.deleted }); d != nil {
		if id := w.post("/v1/datasets?season="+d.season+"&name="+d.name, d.csv, "Content-Type: text/csv").want(200).id(); id != d.id {
			w.t.Errorf("the bytes of %s made %s", d.id, id)
		}
	}
}

// of lists the datasets of a season that are not deleted.
func (w *walk) of(season string) (out []*walked) {
	for _, d := range w.datasets {
		if d.season == season && !d.deleted {
			out = append(out, d)
		}
	}
	return out
}

func (w *walk) analyse() {
	a := &walkedAnalysis{season: w.season(), key: fmt.Sprintf("key-%d", len(w.analyses))}
	if a.datasets = w.of(a.season); len(a.datasets) == 0 {
		w.post("/v1/analyses", map[string]any{"season": a.season}).want(409)
		return
	}
	if w.rand.IntN(2) == 0 {
		w.rand.Shuffle(len(a.datasets), func(i, j int) { a.datasets[i], a.datasets[j] = a.datasets[j], a.datasets[i] })
		a.datasets = a.datasets[:1+w.rand.IntN(len(a.datasets))]
	}
	a.id = w.over(w.post("/v1/analyses", map[string]any{"datasets": a.ids()}, "Prefer: wait=20", "Idempotency-Key: "+a.key))
	w.analyses = append(w.analyses, a)
	w.checkAnalysis(a)
}

// over waits for the end of an analysis, should it last longer than its answer, and
// returns its id.
func (w *walk) over(r reply) string {
	id := r.id()
	for r.json()["state"] == "accepted" || r.json()["state"] == "running" {
		time.Sleep(10 * time.Millisecond)
		r = w.get("/v1/analyses/" + id).want(200)
	}
	return id
}

func (a *walkedAnalysis) ids() (out []string) {
	for _, d := range a.datasets {
		out = append(out, d.id)
	}
	return out
}

// analyseAgain repeats a request as after a lost answer.
func (w *walk) analyseAgain() {
	if a := one(w.rand, w.analyses, func(*walkedAnalysis) bool { return true }); a != nil {
		r := w.post("/v1/analyses", map[string]any{"datasets": a.ids()}, "Prefer: wait=20", "Idempotency-Key: "+a.key)
		if slices.ContainsFunc(a.datasets, func(d *walked) bool { return d.deleted }) && r.status != 200 && r.status != 202 {
			return // it is refused before it is known as a repetition
		}
		if r.id() != a.id || r.header.Get("Idempotency-Replayed") != "true" {
			w.t.Errorf("the repetition of %s is answered %d with %s", a.id, r.status, r.id())
		}
	}
}

// exclude sets a plot aside or takes it in, once with a tag that is old.
func (w *walk) exclude() {
	plots := w.get("/v1/plots?limit=1000&season=" + w.season()).want(200).data()
	if len(plots) == 0 {
		return
	}
	at := "/v1/plots/" + plots[w.rand.IntN(len(plots))]["id"].(string)
	before := w.get(at).want(200)
	change := map[string]any{"excluded": before.json()["excluded"] == false, "exclude_reason": "mole"}
	if change["excluded"] == false {
		change["exclude_reason"] = nil
	}
	w.ask("PATCH", at, change, "If-Match: "+before.header.Get("ETag")).want(200)
	w.ask("PATCH", at, change, "If-Match: "+before.header.Get("ETag")).want(412)
	if now := w.get(at).want(200).json(); now["excluded"] != change["excluded"] {
		w.t.Errorf("%s is %v after %v", at, now, change)
	}
}

func (w *walk) delete() {
	if d := one(w.rand, w.datasets, func(d *walked) bool { return !d.deleted }); d != nil && w.rand.IntN(2) == 0 {
		at := "/v1/datasets/" + d.id
		w.ask("DELETE", at, nil, "If-Match: "+w.get(at).want(200).header.Get("ETag")).want(204)
		d.deleted = true
		w.checkDataset(d)
	}
}

func (w *walk) dismiss() {
	if a := one(w.rand, w.analyses, func(a *walkedAnalysis) bool { return !a.dismissed }); a != nil && w.rand.IntN(2) == 0 {
		w.ask("DELETE", "/v1/analyses/"+a.id, nil).want(200)
		a.dismissed = true
		w.checkAnalysis(a)
	}
}

// readPages walks a table in pages of a random size, and asks again for the first.
func (w *walk) readPages() {
	a := one(w.rand, w.analyses, func(a *walkedAnalysis) bool { return !a.dismissed })
	if a == nil {
		return
	}
	at := fmt.Sprintf("/v1/analyses/%s/plot_results?count=exact&limit=%d", a.id, 1+w.rand.IntN(60))
	first := w.get(at).want(200)
	rows, last := 0, false
	for next := at; next != ""; {
		r := w.get(next).want(200)
		rows += len(r.data())
		page := r.json()["page"].(map[string]any)
		if page["count"] != a.rows {
			w.t.Errorf("%s counts %v rows, and there were %v", next, page["count"], a.rows)
		}
		last = page["complete"].(bool)
		next, _ = r.json()["links"].(map[string]any)["next"].(string)
	}
	if float64(rows) != a.rows || !last {
		w.t.Errorf("the pages of %s have %d rows in all, complete %v, and there are %v", at, rows, last, a.rows)
	}
	w.get(at).want(200).same(at, first)
	w.get(at, "If-None-Match: "+first.header.Get("ETag")).want(304)
}

// readSamples counts the bottles of a season.
func (w *walk) readSamples() {
	season, want, got := w.season(), 0, 0
	for _, d := range w.of(season) {
		want += d.bottles
	}
	for next := fmt.Sprintf("/v1/samples?season=%s&limit=%d", season, 5+w.rand.IntN(100)); next != ""; {
		r := w.get(next).want(200)
		got += len(r.data())
		next, _ = r.json()["links"].(map[string]any)["next"].(string)
	}
	if got != want {
		w.t.Errorf("the season %s has %d samples, want %d", season, got, want)
	}
}

// readSeason reads the newest results of each dataset of a season: of those that some
// analysis has which was not dismissed.
func (w *walk) readSeason() {
	season, want, got := w.season(), map[string]bool{}, map[string]bool{}
	for _, a := range w.analyses {
		for _, d := range a.datasets {
			if a.season == season && !a.dismissed && !d.deleted {
				want[d.name] = true
			}
		}
	}
	for next := "/v1/results/plot_results?limit=1000&metric=runoff_depth&season=" + url.QueryEscape(season); next != ""; {
		r := w.get(next).want(200)
		for _, row := range r.data() {
			got[row["dataset"].(string)] = true
		}
		next, _ = r.json()["links"].(map[string]any)["next"].(string)
	}
	if fmt.Sprint(got) != fmt.Sprint(want) { // maps are printed in the order of their keys
		w.t.Errorf("the season %s has results of %v, want %v", season, got, want)
	}
}

func (w *walk) checkDataset(d *walked) {
	r := w.get("/v1/datasets/" + d.id)
	if d.deleted {
		r.want(410).problem("deleted")
		return
	}
	if got := r.want(200).json(); got["state"] != "accepted" || got["name"] != d.name || got["season"] != d.season {
		w.t.Errorf("the dataset %+v is %v", d, got)
	}
}

// checkAnalysis holds an analysis against what was told of it before.
func (w *walk) checkAnalysis(a *walkedAnalysis) {
	r := w.get("/v1/analyses/" + a.id).want(200).json()
	at := "/v1/analyses/" + a.id + "/plot_results?limit=20&count=exact"
	if a.dismissed {
		if r["state"] != "dismissed" {
			w.t.Errorf("the analysis %s is %v", a.id, r["state"])
		}
		w.get(at).want(410).problem("dismissed")
		return
	}
	page := w.get(at).want(200)
	count, tag := page.json()["page"].(map[string]any)["count"].(float64), page.header.Get("ETag")
	if a.tag == "" {
		a.tag, a.rows = tag, count
	}
	if r["state"] != "successful" || len(r["datasets"].([]any)) != len(a.datasets) || count != a.rows || tag != a.tag || count == 0 {
		w.t.Errorf("the analysis %s is %v of %v, with %v rows and %s; it had %v and %s", a.id, r["state"], r["datasets"], count, tag, a.rows, a.tag)
	}
}
