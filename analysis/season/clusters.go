package season

// clusters numbers events so that those which share a named body of soil have
// the same number: runs on one body of soil are repeated measures, in one event
// or in several. All zero means that all events hang together. The cells of
// an event stand at one index of each list.
func clusters(lists ...[]*cell) []int {
	root := make([]int, len(lists[0]))
	for i := range root {
		root[i] = i
	}
	find := func(i int) int {
		for root[i] != i {
			i = root[i]
		}
		return i
	}
	first := map[string]int{}
	for i := range root {
		for _, cells := range lists {
			for _, u := range cells[i].units {
				if u.soil == "" {
					continue
				}
				j, ok := first[u.soil]
				if !ok {
					first[u.soil] = i
					continue
				}
				a, b := find(i), find(j)
				root[max(a, b)] = min(a, b)
			}
		}
	}
	number := map[int]int{}
	out := make([]int, len(root))
	for i := range out {
		r := find(i)
		n, ok := number[r]
		if !ok {
			n = len(number)
			number[r] = n
		}
		out[i] = n
	}
	return out
}

// merge makes one cell of several events, with one unit for each body of soil.
func merge(cells []*cell) *cell {
	m := &cell{}
	at := map[string]int{}
	var members [][]unit
	for _, c := range cells {
		m.missing += c.missing
		m.dry += c.dry
		m.repeated = m.repeated || c.repeated
		m.separated = m.separated || c.separated
		m.why.Add(c.why...)
		for _, u := range c.units {
			if i, ok := at[u.soil]; ok && u.soil != "" {
				members[i] = append(members[i], u)
				m.repeated = true
				continue
			}
			at[u.soil] = len(members)
			members = append(members, []unit{u})
		}
	}
	for _, g := range members {
		m.units = append(m.units, join(g))
	}
	return m
}
