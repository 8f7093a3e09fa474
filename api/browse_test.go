package api_test

import (
	"encoding/csv"
	"fmt"
	"html"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"sheetwash/api"
	"sheetwash/api/report"
	"sheetwash/api/report/page/pagetest"
)

// asPage asks as a browser does.
const asPage = "Accept: text/html,application/xhtml+xml,*/*;q=0.8"

// aForm is the content type of a form without files.
const aForm = "Content-Type: application/x-www-form-urlencoded"

// says fails unless a page holds texts.
func (r reply) says(texts ...string) reply {
	r.t.Helper()
	for _, text := range texts {
		if !strings.Contains(string(r.body), text) {
			_, main, _ := strings.Cut(string(r.body), "<main")
			r.t.Errorf("the page does not say %q: %.600s", text, main)
		}
	}
	return r
}

// hides fails if a page holds a text.
func (r reply) hides(text string) reply {
	r.t.Helper()
	if strings.Contains(string(r.body), text) {
		r.t.Errorf("the page says %q", text)
	}
	return r
}

// send uploads the files of a dataset by the form, as a browser does, and returns the
// answer. Files that were not chosen have no name.
func (s *service) send(season string, files map[string]string, headers ...string) reply {
	s.t.Helper()
	body, contentType := form(s.t, files)
	boundary := strings.TrimPrefix(contentType, "multipart/form-data; boundary=")
	text := "--" + boundary + "\r\nContent-Disposition: form-data; name=\"file\"; filename=\"\"\r\nContent-Type: application/octet-stream\r\n\r\n\r\n" +
		"--" + boundary + "\r\nContent-Disposition: form-data; name=\"name\"\r\n\r\n\r\n" + string(body)
	return s.post("/seasons/"+season+"/uploads", text, append(headers, asPage, "Content-Type: "+contentType)...)
}

// inFolder puts files into a folder.
func inFolder(folder string, files map[string]string) map[string]string {
	out := map[string]string{}
	for name, data := range files {
		out[folder+"/"+name] = data
	}
	return out
}

// A crew makes a season, uploads a field day by the form, sees it being analysed, and
// then its pages, all without a script.
func TestUploadBecomesPages(t *testing.T) {
	s := newService(t)
	s.get("/", asPage).want(200).says("There is no season yet", "Make the season")
	at := s.post("/seasons", "name=Corrin+Basin+2031&time_zone=Europe%2FLondon&units=us", asPage, aForm).want(303).header.Get("Location")
	season := strings.Split(at, "/")[2]
	s.get(at, asPage).want(200).says("Nothing was uploaded yet", "webkitdirectory")
	s.get("/seasons/"+season, asPage).want(200).says("There are no results yet")

	s.jobs.hold = make(chan struct{})
	upload := s.send(season, inFolder("01-ashlock-mill", demo(t, "01-ashlock-mill"))).want(303).header.Get("Location")
	running := s.get(upload, asPage).want(200).says("01-ashlock-mill", "Being analysed: 0 of 1 upload is done", "<progress")
	if running.header.Get("Refresh") != "3" {
		t.Errorf("the page does not come again: Refresh is %q", running.header.Get("Refresh"))
	}
	for _, page := range []string{upload, "/seasons/" + season, "/seasons/" + season + "/uploads"} {
		s.get(page, asPage).want(200).says("Let this page stand still")
		if still := s.get(page+"?still=true", asPage).want(200).says("Keep this page up to date"); still.header.Get("Refresh") != "" {
			t.Errorf("%s comes again though it should stand still", page)
		}
	}
	close(s.jobs.hold)
	s.jobs.wait.Wait()
	done := s.get(upload, asPage).want(200).says("Analysed. Its pages are ready", "Field day Ashlock Mill", "Run AM-1")
	if done.header.Get("Refresh") != "" {
		t.Error("the page comes again though nothing goes on")
	}
	for _, m := range regexp.MustCompile(`<a href="(/seasons/[^"]*)"`).FindAllStringSubmatch(string(done.body), -1) {
		s.get(html.UnescapeString(m[1]), asPage).want(200)
	}
	event := s.get("/seasons/"+season+"/event?event=Ashlock+Mill", asPage).want(200).says("in of rain", "In SI units") // the season's units
	why := regexp.MustCompile(`href="(/seasons/[^"]*/why\?key=plot_results[^"]*runoff_coefficient[^"]*)"`).FindStringSubmatch(string(event.body))
	if why == nil {
		t.Fatal("no number leads to its derivation")
	}
	s.get(html.UnescapeString(why[1]), asPage).want(200).says("What it is made of", ".csv row", "Back to the page")
	again := s.send(season, inFolder("01-ashlock-mill", demo(t, "01-ashlock-mill"))).want(303)
	if got := again.header.Get("Location"); got != upload {
		t.Errorf("the same files again lead to %s, not %s", got, upload)
	}
	if n := len(s.get("/v1/analyses?season=" + season).data()); n != 1 {
		t.Errorf("%d analyses", n)
	}
}

// An upload with errors shows them with file, row, column and what to do, keeps out of
// the numbers, and is forgiven when it was corrected.
func TestUploadWithErrorsShowsThem(t *testing.T) {
	s := newService(t)
	season := s.season("Corrin Basin 2031")
	bad := demo(t, "01-ashlock-mill")
	bad["samples.csv"] = strings.Replace(bad["samples.csv"], "AM-1,1,", "AM-1,x,", 1)
	at := s.send(season, inFolder("ashlock", bad)).want(303).header.Get("Location")
	s.get(at, asPage).want(200).says("This upload was refused", "samples.csv", `data-label="Row">2<`, "plot.unknown", "Correct the files and upload them again")
	s.get("/seasons/"+season+"/uploads", asPage).want(200).says("refused")
	s.get("/", asPage).want(200).says("1 refused")
	if n := len(s.get("/v1/analyses?season=" + season).data()); n != 0 {
		t.Errorf("%d analyses of refused data", n)
	}
	s.send(season, inFolder("ashlock", demo(t, "01-ashlock-mill"))).want(303)
	s.jobs.wait.Wait()
	s.get("/seasons/"+season, asPage).want(200).hides("was refused").says("Ashlock Mill")
	s.get("/seasons/"+season+"/uploads", asPage).want(200).says("refused, corrected since", "analysed")
	s.send(season, nil).want(400).says("No file was chosen")
	s.post("/seasons/"+season+"/uploads", "x", asPage, "Content-Type: text/csv").want(415).says("multipart/form-data")
}

// An upload that waits, since it came by the API, is analysed from its page.
func TestWaitingUploadIsAnalysed(t *testing.T) {
	s := newService(t)
	season := s.season("Corrin Basin 2031")
	s.upload(season, "09-tarn-gate").want(201)
	id := s.upload(season, "01-ashlock-mill").want(201).id()
	s.get("/datasets/"+id, asPage).want(200).says("waits to be analysed", "Analyse it now")
	s.get("/seasons/"+season, asPage).want(200).says("2 uploads are not in these results yet")
	if at := s.post("/datasets/"+id, "", asPage, aForm).want(303).header.Get("Location"); at != "/datasets/"+id {
		t.Errorf("sent to %s", at)
	}
	s.jobs.wait.Wait()
	s.get("/datasets/"+id, asPage).want(200).says("Its pages are ready")
	// A field day that came later joins those before it.
	s.send(season, inFolder("03-fenwick-holt", demo(t, "03-fenwick-holt"))).want(303)
	s.jobs.wait.Wait()
	s.get("/seasons/"+season, asPage).want(200).says("Ashlock Mill", "Tarn Gate", "Fenwick Holt", "3 field days")
}

// A browser signs in with a key, which lives in a cookie that no script reads, and
// may what the key may.
func TestBrowserSignsIn(t *testing.T) {
	s := newService(t, keyed)
	operator := "Authorization: Bearer " + s.key("manager")
	own := s.post("/v1/seasons", map[string]any{"name": "own"}, operator).want(201).id()
	other := s.post("/v1/seasons", map[string]any{"name": "other"}, operator).want(201).id()
	s.get("/seasons/"+own, asPage).want(401).says("This needs a key", `value="/seasons/`+own+`"`)
	s.post("/sign-in", "key=wrong&to=%2F", asPage, aForm).want(401).says("unknown, expired or revoked", `type="password"`)

	signIn := func(key string) (reply, string) {
		r := s.post("/sign-in", url.Values{"key": {key}, "to": {"/seasons/" + own}}.Encode(), asPage, aForm, "Origin: "+s.URL, "Sec-Fetch-Site: same-origin")
		cookie := r.header.Get("Set-Cookie")
		return r, "Cookie: " + strings.Split(cookie, ";")[0]
	}
	r, reader := signIn(s.key("reader", own))
	if r.want(303); r.header.Get("Location") != "/seasons/"+own || !strings.Contains(r.header.Get("Set-Cookie"), "HttpOnly; SameSite=Lax") || strings.Contains(r.header.Get("Set-Cookie"), "Secure") {
		t.Errorf("signing in answers %v", r.header)
	}
	s.get("/", asPage, reader).want(200).says("own", "Sign out").hides("other").hides("Make the season")
	s.get("/seasons/"+own, asPage, reader).want(200)
	s.get("/seasons/"+own+"/uploads", asPage, reader).want(200).hides("<form")
	s.get("/seasons/"+other, asPage, reader).want(404).says("Not found").hides("other")
	s.get("/v1/seasons", reader).want(200)
	s.send(own, demo(t, "01-ashlock-mill"), reader).want(403)
	_, recorder := signIn(s.key("recorder", own))
	s.send(other, demo(t, "01-ashlock-mill"), recorder).want(404)
	s.send(own, demo(t, "01-ashlock-mill"), recorder, "Sec-Fetch-Site: cross-site").want(403).says("A page of another origin may not change anything here")
	s.send(own, demo(t, "01-ashlock-mill"), recorder, "Origin: https://evil.example").want(403)
	s.send(own, demo(t, "01-ashlock-mill"), recorder, "Sec-Fetch-Site: same-origin").want(303)

	out := s.post("/sign-in", "", asPage, aForm, reader).want(303)
	if !strings.Contains(out.header.Get("Set-Cookie"), "Max-Age=0") {
		t.Errorf("signing out answers %q", out.header.Get("Set-Cookie"))
	}
	gone := s.get("/", asPage, "Cookie: sheetwash_key=revoked").want(401).says("The key of this browser is unknown, expired or revoked")
	if !strings.Contains(gone.header.Get("Set-Cookie"), "Max-Age=0") {
		t.Error("a key that is not known stays in the browser")
	}
	if strings.Contains(s.log.String(), strings.TrimPrefix(reader, "Cookie: sheetwash_key=")) {
		t.Error("the log holds a key")
	}
}

// Over TLS the cookie goes nowhere else; sign-ins that fail are bounded; nobody is sent
// to another server.
func TestSignInIsGuarded(t *testing.T) {
	s := newService(t, keyed)
	key := s.key("reader")
	safe := s.post("/sign-in", "key="+key, asPage, aForm, "Host: lab.example", "Origin: https://lab.example", "Sec-Fetch-Site: same-origin").want(303)
	if !strings.Contains(safe.header.Get("Set-Cookie"), "; Secure") {
		t.Errorf("a cookie over TLS is %q", safe.header.Get("Set-Cookie"))
	}
	for _, to := range []string{"//evil.example", "https://evil.example", `/\evil.example`, "javascript:alert(1)", "evil"} {
		r := s.post("/sign-in", url.Values{"key": {key}, "to": {to}}.Encode(), asPage, aForm).want(303)
		if r.header.Get("Location") != "/" {
			t.Errorf("to=%s leads to %s", to, r.header.Get("Location"))
		}
	}
	s.get("/sign-in?to=//evil.example", asPage).want(200).hides("evil")
	for range 10 {
		s.post("/sign-in", "key=wrong", asPage, aForm).want(401)
	}
	s.post("/sign-in", "key="+key, asPage, aForm).want(429).says("Too many sign-ins")
}

// Whoever asks as a program has problems as before; a browser has pages, with a policy
// that loads nothing.
func TestErrorsForBrowsers(t *testing.T) {
	s := newService(t)
	season := s.season("Corrin Basin 2031")
	s.get("/nowhere", asPage).want(404).says("Not found", "All seasons", "Request ")
	s.get("/nowhere").want(404).problem("not_found")
	s.get("/v1/seasons/x", asPage).want(404).problem("not_found")
	s.get("/seasons/"+season+"?units=cgs", asPage).want(400).says("cgs")
	s.get("/seasons/"+season+"/event", asPage).want(400).says("Event is missing")
	s.get("/seasons/"+season+"/event?event=x", asPage).want(404).says("There is no event")
	s.get("/seasons/"+season+"/why?key=plot_results/a/b/c/d/e", asPage).want(404)
	s.get("/seasons/"+season+"?x=1", asPage).want(400).says("There is no parameter")
	for _, path := range []string{"/", "/sign-in", "/nowhere", "/seasons/" + season + "/uploads"} {
		r := s.get(path, asPage)
		if p := r.header.Get("Content-Security-Policy"); !strings.Contains(p, "default-src 'none'") || !strings.Contains(p, "form-action 'self'") || strings.Contains(p, "script") {
			t.Errorf("%s: policy %q", path, p)
		}
		if !strings.Contains(r.header.Get("Vary"), "Cookie") || r.header.Get("X-Frame-Options") != "DENY" {
			t.Errorf("%s: headers %v", path, r.header)
		}
	}
}

// A published season is a page for everybody, where the operator allows it.
func TestPublishedPages(t *testing.T) {
	s := newService(t, keyed, func(o *api.Options) { o.Access.Published = true })
	auth := "Authorization: Bearer " + s.key("manager")
	made := s.post("/v1/seasons", map[string]any{"name": "Corrin Basin 2031"}, auth).want(201)
	s.post("/v1/seasons", map[string]any{"name": "secret"}, auth).want(201)
	s.send(made.id(), inFolder("a", demo(t, "01-ashlock-mill")), auth).want(303)
	s.jobs.wait.Wait()
	s.get("/", asPage).want(200).hides("Corrin").says("Sign in")
	s.ask("PATCH", "/v1/seasons/"+made.id(), map[string]any{"published": true}, auth, "If-Match: "+made.header.Get("ETag")).want(200)
	s.get("/", asPage).want(200).says("Corrin").hides("secret")
	r := s.get("/seasons/"+made.id(), asPage).want(200).says("Ashlock Mill").hides("<form")
	if r.header.Get("Cache-Control") != "public, max-age=60" {
		t.Errorf("kept %q", r.header.Get("Cache-Control"))
	}
	s.get("/seasons/"+made.id(), asPage, "If-None-Match: "+r.header.Get("ETag")).want(304)
	s.send(made.id(), demo(t, "01-ashlock-mill")).want(401)
}

// Every number of a live page is that of the table that the API gives, in both systems
// of units.
func TestNumbersOfLivePages(t *testing.T) {
	s := newService(t)
	season := s.season("Corrin Basin 2031")
	for _, d := range []string{"01-ashlock-mill", "09-tarn-gate", "11-wether-hill"} {
		s.upload(season, d).want(201)
	}
	s.post("/v1/analyses", map[string]any{"season": season}, "Prefer: wait=20").want(200)
	rows := pagetest.TableRows(t, computed(t, "01-ashlock-mill", "09-tarn-gate", "11-wether-hill"))
	for _, units := range []report.Units{report.SI, report.US} {
		for path, least := range map[string]int{"": 500, "/event?event=Ashlock+Mill": 300, "/event?event=Wether+Hill": 200, "/run?dataset=09-tarn-gate&run=TG-1": 500} {
			glue := "?"
			if strings.Contains(path, "?") {
				glue = "&"
			}
			r := s.get("/seasons/"+season+path+glue+"units="+units.String(), asPage).want(200)
			if n := pagetest.Numbers(t, r.body, rows); n < least {
				t.Errorf("%s in %v: only %d numbers", path, units, n)
			}
		}
	}
}

// names are hostile: markup, other directions of writing, very long ones.
var hostileNames = []string{
	`<script>alert(1)</script>`, `"><img src=x onerror=alert(2)>`, `{{.}} ${x} </style>`, `javascript:alert(3)`, "\u202eright to left\u202c אבג", "مرج الفستوكا",
	"a & b; c=d?e#f/../..", strings.Repeat("W", 200), strings.Repeat("long name ", 19), "'; DROP TABLE plots; --",
}

// hostileFiles is a field day of 40 treatments of hostile names, a plot each, none of
// which ran off; with plots it is of so many.
func hostileFiles(t testing.TB, plots int) map[string]string {
	t.Helper()
	table := func(rows ...[]string) string {
		var b strings.Builder
		if err := csv.NewWriter(&b).WriteAll(rows); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	run, event := hostileNames[0], hostileNames[1]
	p := [][]string{{"run", "plot", "treatment", "area (m2)", "runoff_start (min)"}}
	b := [][]string{{"run", "plot", "stream", "start (min)", "end (min)", "volume (mL)"}}
	for i := range plots {
		plot := fmt.Sprint(i, " ", hostileNames[(i+3)%6])
		p = append(p, []string{run, plot, hostileNames[i%len(hostileNames)] + fmt.Sprint(i), "0.5", "none"})
		b = append(b, []string{run, plot, "runoff", "0", "15", "0"}, []string{run, plot, "runoff", "15", "30", "0"})
	}
	return map[string]string{
		"runs.csv": table([]string{"run", "event", "season", "site", "crew", "simulator", "started", "intensity (mm/h)", "rain_duration (min)", "note"},
			[]string{run, event, hostileNames[2], hostileNames[4], hostileNames[6], hostileNames[5], "2031-05-01T10:00:00Z", "70", "30", hostileNames[1]}),
		"plots.csv": table(p...), "samples.csv": table(b...),
	}
}

// Hostile names make no markup on live pages, and every link of theirs leads to its page.
func TestHostileLivePages(t *testing.T) {
	for _, plots := range []int{1, 40} {
		s := newService(t)
		season := s.post("/v1/seasons", map[string]any{"name": hostileNames[0] + hostileNames[4]}).want(201).id()
		at := s.send(season, inFolder("<b>day", hostileFiles(t, plots))).want(303).header.Get("Location")
		s.jobs.wait.Wait()
		seen := map[string]bool{}
		for next := []string{"/", at, "/seasons/" + season + "/uploads", "/seasons/" + season}; len(next) > 0; next = next[1:] {
			if seen[next[0]] || len(seen) > 60 {
				continue
			}
			seen[next[0]] = true
			r := s.get(next[0], asPage).want(200)
			pagetest.Harmless(t, r.body, "form", "input", "label", "select", "option", "progress", "dl")
			for _, m := range regexp.MustCompile(`<a (?:class="n" )?href="(/seasons/[^"]*)"`).FindAllStringSubmatch(string(r.body), -1) {
				next = append(next, html.UnescapeString(m[1]))
			}
		}
		if len(seen) < 10 {
			t.Errorf("only %d pages were found", len(seen))
		}
		s.send(season, map[string]string{"<script>.csv": "x"}).want(303)
		bad := s.get("/seasons/"+season+"/uploads", asPage).want(200)
		m := regexp.MustCompile(`<a href="(/datasets/[^"]*)"`).FindStringSubmatch(string(bad.body))
		pagetest.Harmless(t, s.get(m[1], asPage).want(200).says("refused").body, "form", "input", "label")
	}
}
