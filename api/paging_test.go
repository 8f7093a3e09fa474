package api_test

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

// Who walks a list while others come and go meets each one that stayed once.
func TestWalkWhileThingsComeAndGo(t *testing.T) {
	s := newService(t)
	season := s.season("Corrin Basin 2031")
	at := "/v1/seasons/" + season + "/events"
	random := rand.New(rand.NewPCG(7, 11))
	stay, leave := map[string]bool{}, []string{}
	add := func(name string) string {
		return s.post(at, map[string]any{"name": name, "date": fmt.Sprintf("2031-05-%02d", 1+random.IntN(28))}).want(201).id()
	}
	for i := range 40 {
		if id := add(fmt.Sprintf("event %02d", random.IntN(20))); i%2 == 0 {
			stay[id] = true
		} else {
			leave = append(leave, id)
		}
	}
	for walk, sort := range []string{"id", "-id", "name", "-date", "created"} {
		met := map[string]int{}
		for next := at + "?limit=3&sort=" + sort; next != ""; {
			r := s.get(next).want(200)
			for _, e := range r.data() {
				met[e["id"].(string)]++
			}
			next, _ = r.json()["links"].(map[string]any)["next"].(string)
			if len(leave) > 0 && random.IntN(2) == 0 {
				id := leave[len(leave)-1]
				leave = leave[:len(leave)-1]
				tag := s.get("/v1/events/" + id).want(200).header.Get("ETag")
				s.ask("DELETE", "/v1/events/"+id, nil, "If-Match: "+tag).want(204)
			}
			if random.IntN(3) == 0 {
				add(fmt.Sprintf("late %d", walk))
			}
		}
		for id := range stay {
			if met[id] != 1 {
				t.Errorf("sort=%s: %s was met %d times", sort, id, met[id])
			}
		}
		for id, n := range met {
			if n > 1 {
				t.Errorf("sort=%s: %s was met %d times", sort, id, n)
			}
		}
	}
}
