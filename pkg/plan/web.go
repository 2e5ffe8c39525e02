package plan

// A web is how repairs hang together: what each takes with it, what it leaves
// out. Every repair needs itself.
type web struct {
	needs    []set // all that must be done with it, itself included
	clashes  []set // what cannot be done beside it, one step
	needless []set // all that falls with it when it is not done, itself included
}

func newWeb(repairs []Repair) web {
	n := len(repairs)
	w := web{needs: make([]set, n), clashes: make([]set, n), needless: make([]set, n)}
	for i, r := range repairs {
		w.gather(repairs, i, &w.needs[i])
		for _, j := range r.Excludes {
			w.clashes[i].put(j)
			w.clashes[j].put(i)
		}
	}
	for i := range repairs {
		for _, j := range w.needs[i].positions() {
			w.needless[j].put(i)
		}
	}
	return w
}

func (w web) gather(repairs []Repair, i int, needs *set) {
	if needs.has(i) {
		return
	}
	needs.put(i)
	for _, j := range repairs[i].Requires {
		w.gather(repairs, j, needs)
	}
}

// musts gives the musts and all that they require.
func (w web) musts(repairs []Repair) set {
	var musts set
	for i, r := range repairs {
		if r.Must {
			musts = musts.union(w.needs[i])
		}
	}
	return musts
}

// conflict says whether two members exclude one another.
func (w web) conflict(members set) bool {
	for _, i := range members.positions() {
		if !members.common(w.clashes[i]).isEmpty() {
			return true
		}
	}
	return false
}

// closed says whether the set holds what its members require.
func (w web) closed(members set) bool {
	for _, i := range members.positions() {
		if !w.needs[i].within(members) {
			return false
		}
	}
	return true
}

// barredBy gives all that can no longer be done once i is done.
func (w web) barredBy(i int) set {
	var barred set
	for _, j := range w.clashes[i].positions() {
		barred = barred.union(w.needless[j])
	}
	return barred
}

// touching gives the repairs that i is tied to, in one step or several.
func (w web) touching(i int) set {
	return w.needs[i].union(w.needless[i]).union(w.clashes[i]).union(w.barredBy(i))
}

// families parts the repairs into groups that have nothing to do with one
// another.
func (w web) families(members set) []set {
	var families []set
	for rest := members; !rest.isEmpty(); {
		var family set
		waiting := rest.positions()[:1]
		for len(waiting) > 0 {
			i := waiting[len(waiting)-1]
			waiting = waiting[:len(waiting)-1]
			if family.has(i) {
				continue
			}
			family.put(i)
			waiting = append(waiting, w.touching(i).common(rest).minus(family).positions()...)
		}
		families = append(families, family)
		rest = rest.minus(family)
	}
	return families
}
