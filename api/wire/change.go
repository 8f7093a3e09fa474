package wire

import "encoding/json"

// Change is a member of a merge patch (RFC 7396): absent, null, or a value.
type Change[T any] struct {
	Given bool
	Value *T // nil: null
}

// UnmarshalJSON reads a member that is there.
func (c *Change[T]) UnmarshalJSON(b []byte) error {
	c.Given = true
	return json.Unmarshal(b, &c.Value)
}

// Over returns the value that a member has after the patch; null is the zero value.
func (c Change[T]) Over(now T) T {
	switch {
	case !c.Given:
		return now
	case c.Value == nil:
		var zero T
		return zero
	}
	return *c.Value
}
