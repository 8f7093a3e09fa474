package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"path"
	"strings"
	"sync"
	"time"

	"sheetwash/api"
	"sheetwash/api/store"
	"sheetwash/cmd/internal/demo"
)

// demoSeason is the name of the season that --demo loads.
const demoSeason = "Demo season (invented)"

// demoLoad tells whether the demo season is there, where it was asked for.
type demoLoad struct {
	once sync.Once
	ch   chan struct{}
}

func newDemoLoad() *demoLoad { return &demoLoad{ch: make(chan struct{})} }

func (d *demoLoad) done() { d.once.Do(func() { close(d.ch) }) }

func (d *demoLoad) check(context.Context) error {
	select {
	case <-d.ch:
		return nil
	default:
		return errors.New("the demo season is being loaded")
	}
}

// loadDemo sends the demo season to the service as a crew would, unless it is
// there already.
func (a *assembled) loadDemo(ctx context.Context, address string, s *streams) error {
	began := time.Now()
	c := &demoClient{address: address}
	keyed, err := api.AnyKey(ctx, a.store, time.Now())
	if err != nil {
		return err
	}
	if keyed {
		secret, end, err := a.demoKey(ctx)
		if err != nil {
			return err
		}
		defer end()
		c.secret = secret
	}
	if err := c.send(ctx); err != nil && ctx.Err() == nil {
		return fmt.Errorf("load the demo season: %w", err)
	}
	a.demo.done()
	s.say("The demo season is there after %.1f s: http://%s/v1/results/treatment_results?season=%s&format=csv",
		time.Since(began).Seconds(), strings.TrimPrefix(address, "http://"), url.PathEscape(demoSeason))
	return nil
}

// demoKey makes a key for the time of loading.
func (a *assembled) demoKey(ctx context.Context) (secret string, end func(), err error) {
	secret, hash, err := store.NewSecret()
	if err != nil {
		return "", nil, err
	}
	var k store.Key
	err = a.store.InTx(ctx, func(tx *store.Tx) (err error) {
		until := time.Now().Add(10 * time.Minute)
		k, err = tx.CreateKey(ctx, store.Everything, store.Key{Name: "loading of the demo season", Role: store.RoleManager, ExpiresAt: &until}, hash)
		return err
	})
	return secret, func() {
		ctx := context.WithoutCancel(ctx)
		if err := a.store.InTx(ctx, func(tx *store.Tx) error { _, err := tx.RevokeKey(ctx, store.Everything, k.ID); return err }); err != nil {
			a.log.Warn("key of the demo season not revoked; it ends by itself", "err", err)
		}
	}, err
}

// demoClient is a client of the service.
type demoClient struct{ address, secret string }

func (c *demoClient) send(ctx context.Context) error {
	var list struct {
		Data []struct{ Name string } `json:"data"`
	}
	if err := c.ask(ctx, http.MethodGet, "/v1/seasons?limit=1000", "", nil, &list); err != nil {
		return err
	}
	for _, season := range list.Data {
		if season.Name == demoSeason {
			return nil
		}
	}
	var made struct{ ID string }
	if err := c.ask(ctx, http.MethodPost, "/v1/seasons", "application/json", map[string]string{"name": demoSeason}, &made); err != nil {
		return err
	}
	if err := c.upload(ctx, made.ID); err != nil {
		return err
	}
	var a struct{ State string }
	if err := c.ask(ctx, http.MethodPost, "/v1/analyses", "application/json", map[string]string{"season": made.ID}, &a); err != nil {
		return err
	}
	if a.State != store.AnalysisSuccessful {
		return fmt.Errorf("the analysis is %s", a.State)
	}
	return nil
}

// upload sends the field days of the season.
func (c *demoClient) upload(ctx context.Context, season string) error {
	files, err := demo.Files()
	if err != nil {
		return err
	}
	var days []string
	byDay := map[string][]demo.File{}
	for _, f := range files {
		day, _, in := strings.Cut(f.Path, "/")
		if !in && path.Ext(f.Path) != ".zip" {
			continue // what is about the season
		}
		if byDay[day] == nil {
			days = append(days, day)
		}
		byDay[day] = append(byDay[day], f)
	}
	for _, day := range days {
		body, media, err := formOf(day, byDay[day])
		if err != nil {
			return err
		}
		at := "/v1/datasets?season=" + season + "&name=" + url.QueryEscape(strings.TrimSuffix(day, ".zip"))
		if err := c.ask(ctx, http.MethodPost, at, media, body, nil); err != nil {
			return fmt.Errorf("%s: %w", day, err)
		}
	}
	return nil
}

// formOf is the files of a field day as a form.
func formOf(day string, files []demo.File) (body []byte, media string, err error) {
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for _, f := range files {
		part, err := w.CreateFormFile("file", strings.TrimPrefix(f.Path, day+"/"))
		if err == nil {
			_, err = part.Write(f.Data)
		}
		if err != nil {
			return nil, "", err
		}
	}
	err = w.Close()
	return b.Bytes(), w.FormDataContentType(), err
}

// ask sends a request, a []byte as it stands and everything else as JSON.
func (c *demoClient) ask(ctx context.Context, method, at, media string, body, into any) error {
	content, ok := body.([]byte)
	var err error
	if !ok && body != nil {
		if content, err = json.Marshal(body); err != nil {
			return err
		}
	}
	r, err := http.NewRequestWithContext(ctx, method, c.address+at, bytes.NewReader(content))
	if err != nil {
		return err
	}
	if media != "" {
		r.Header.Set("Content-Type", media)
	}
	r.Header.Set("Prefer", "wait=30") // what is analysed is there when it is answered
	if c.secret != "" {
		r.Header.Set("Authorization", "Bearer "+c.secret)
	}
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		return err
	}
	defer res.Body.Close()
	data, err := io.ReadAll(res.Body)
	if err == nil && res.StatusCode >= 300 {
		err = fmt.Errorf("%s %s: %d %s", method, at, res.StatusCode, data)
	}
	if err != nil || into == nil {
		return err
	}
	return json.Unmarshal(data, into)
}
