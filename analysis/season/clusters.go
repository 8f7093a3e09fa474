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
	plots := 0
	for _, c := range cells {
		plots += len(c.units)
	}
	m := &cell{units: make([]unit, 0, plots)}
	at := map[string]int{}    // soils that have a name
	again := map[int][]unit{} // further units of one
	for _, c := range cells {
		m.missing += c.missing
		m.dry += c.dry
		m.repeated = m.repeated || c.repeated
		m.separated = m.separated || c.separated
		m.why.Add(c.why...)
		for _, u := range c.units {
			if u.soil != "" {
				if i, ok := at[u.soil]; ok {
					again[i] = append(again[i], u)
					m.repeated = true
					continue
				}
				at[u.soil] = len(m.units)
			}
			m.units = append(m.units, u)
		}
	}
	for i, more := range again {
		m.units[i] = join(append([]unit{m.units[i]}, more...))
	}
	return m
}
