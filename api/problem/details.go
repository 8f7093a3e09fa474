package problem

import (
	"sheetwash/api/wire"
)

// MediaType is that of the details.
const MediaType = "application/problem+json"

// Page is the page that explains the codes; a code is an anchor in it.
const Page = "/docs/errors"

// Details is the body of an error, RFC 9457, with the members of ours.
type Details struct {
	Type          string            `json:"type" example:"/docs/errors#not_found"`
	Title         string            `json:"title" example:"Not found"`
	Status        int               `json:"status" example:"404"`
	Detail        string            `json:"detail" example:"there is no analysis 01920000-0000-7000-8000-000000000000"`
	Instance      string            `json:"instance" example:"/v1/analyses/01920000-0000-7000-8000-000000000000"`
	Code          Code              `json:"code" example:"not_found"`
	RequestID     string            `json:"request_id"`
	Retryable     bool              `json:"retryable"`
	Findings      []wire.Finding    `json:"findings,omitempty"` // at most 100, with data_rejected
	FindingsTotal *int              `json:"findings_total,omitempty"`
	Links         map[string]string `json:"links,omitempty"`
} // @name Problem

// Details returns what a caller is told.
func (e *Error) Details(instance, requestID string) Details {
	k := KindOf(e.Code)
	d := Details{
		Type: Page + "#" + string(k.Code), Title: k.Title, Status: k.Status, Detail: e.Detail, Instance: instance,
		Code: k.Code, RequestID: requestID, Retryable: k.Retryable, Findings: e.Findings, Links: e.Links,
	}
	if e.Code == DataRejected {
		d.FindingsTotal = &e.FindingsTotal
		if d.Findings == nil {
			d.Findings = []wire.Finding{}
		}
	}
	return d
}
