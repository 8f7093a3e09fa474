package wire

// List is a page of a list.
type List[T any] struct {
	Data  []T   `json:"data"`
	Page  Page  `json:"page"`
	Links Links `json:"links"`
}

// Page says which part of the list an answer holds.
type Page struct {
	Returned   int     `json:"returned"`
	Limit      int     `json:"limit"`
	Complete   bool    `json:"complete"` // nothing follows
	NextCursor *string `json:"next_cursor" extensions:"x-nullable"`
	Count      *int64  `json:"count,omitempty"` // with count=exact
} // @name Page

// Links are addresses on this server, by relation.
type Links map[string]string
