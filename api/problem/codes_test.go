package problem_test

import (
	"errors"
	"testing"
	"time"

	"sheetwash/api/problem"
	"sheetwash/api/wire"
)

func TestCodesAreDistinctAndComplete(t *testing.T) {
	seen := map[problem.Code]bool{}
	for i, k := range problem.Kinds() {
		if seen[k.Code] {
			t.Errorf("%s stands twice", k.Code)
		}
		seen[k.Code] = true
		if k.Title == "" || k.Meaning == "" || k.Remedy == "" || k.Status < 400 {
			t.Errorf("%s is not complete: %+v", k.Code, k)
		}
		if i > 0 && problem.Kinds()[i-1].Status > k.Status {
			t.Errorf("%s is out of the order of statuses", k.Code)
		}
	}
}

// What is answered with 429 or 503 says how long to wait.
func TestWaits(t *testing.T) {
	for _, k := range problem.Kinds() {
		if k.Status != 429 && k.Status != 503 {
			continue
		}
		if problem.New(k.Code, "").Wait() < time.Second {
			t.Errorf("%s does not say how long to wait", k.Code)
		}
	}
}

func TestDetailsKeepTheCauseInside(t *testing.T) {
	cause := errors.New("open /var/lib/secret: no such file")
	e := problem.Because(cause, problem.Internal, "try again")
	d := e.Details("/v1/seasons", "r1")
	if d.Detail != "try again" || d.Status != 500 || d.Type != "/docs/errors#internal" || !d.Retryable {
		t.Errorf("details are %+v", d)
	}
	if !errors.Is(e, cause) {
		t.Error("the cause is lost to the log")
	}
}

// At most 100 findings go with the problem; the total counts all.
func TestRejectedIsCut(t *testing.T) {
	d := problem.Rejected(make([]wire.Finding, 250), 250, "rejected").Details("", "")
	if len(d.Findings) != 100 || d.FindingsTotal == nil || *d.FindingsTotal != 250 {
		t.Errorf("%d findings of %v", len(d.Findings), d.FindingsTotal)
	}
}
