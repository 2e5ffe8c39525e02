package web

// readingsPage says who was shown what a donor's paper says.
type readingsPage struct {
	Frame
	Paper Paper
	Most  int
}

func (v *visit) readings() error {
	p, err := find[Paper](v.ctx, v.Site, "paper", v.param("paper"), "paper")
	if err != nil {
		return err
	}
	return v.show("readings", readingsPage{v.frame("Who was shown " + p.Serial), p, keptReadings})
}

// withoutReadings leaves out who was shown papers, which is for administrators and
// auditors.
func (v *visit) withoutReadings(papers []Paper) []Paper {
	if overseers.admits(v.Who) {
		return papers
	}
	for i := range papers {
		papers[i].Reads = nil
	}
	return papers
}
