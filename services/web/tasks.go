package web

import (
	"refloat.example/pkg/people"
)

// task is something other than a boat that waits for hands.
type task struct {
	ID      string
	Words   string
	Address string
}

// tasks gives what waits for the viewer beside boats.
func (v *visit) tasks() ([]task, error) {
	var list []task
	for _, find := range []struct {
		mine bool
		find func() ([]task, error)
	}{
		{v.Who.Has(people.Coordinator), v.untiered},
		{v.Who.Has(lotRoles...), v.secretsWanted},
		{v.Who.Has(people.Coordinator, people.Administrator), v.roundTasks},
		{v.Who.Has(people.Coordinator), v.openOffers},
		{v.Who.Has(people.Coordinator), v.handOvers},
		{v.Who.Has(people.Coordinator), v.afterHandOvers},
		{v.Who.Has(people.Coordinator, people.Administrator), v.appeals},
		{v.Who.Has(people.Treasurer), v.paperless},
		{v.Who.Has(people.Treasurer), v.secondSignatures},
		{v.Who.Has(people.Coordinator, people.Treasurer, people.Administrator), v.unsettled},
		{v.Who.Has(people.Repairer), v.timerTasks},
		{v.Who.Has(people.Repairer), v.lowTasks},
	} {
		if !find.mine {
			continue
		}
		found, err := find.find()
		if err != nil {
			return nil, err
		}
		list = append(list, found...)
	}
	return list, nil
}

// counted is a task when a query counts something.
func (v *visit) counted(id, one, many, address, query string) ([]task, error) {
	var n int
	if err := v.Pool.QueryRow(v.ctx, query).Scan(&n); err != nil || n == 0 {
		return nil, err
	}
	return []task{{id, count(n, one, many), address}}, nil
}

func (v *visit) untiered() ([]task, error) {
	return v.counted("no-tier", "request has no tier yet", "requests have no tier yet", "/requests",
		`SELECT count(*) FROM web.request WHERE state = 'open' AND tier = 0`)
}

func (v *visit) openOffers() ([]task, error) {
	return v.counted("open-offers", "offer waits for its answer", "offers wait for their answers", "/rounds",
		`SELECT count(*) FROM web.offer WHERE state = 'open' AND (coalesce(doc->>'with', '') = '' OR doc->>'boat' < doc->>'with')`)
}

// secretsWanted gives the lotteries that want a secret of another member.
func (v *visit) secretsWanted() ([]task, error) {
	rounds, err := findAll[Round](v.ctx, v.Site, `SELECT doc FROM web.round WHERE state = 'not frozen' ORDER BY doc->>'opened_at', id`)
	var list []task
	for _, r := range rounds {
		if r.Lacks() > 0 && !r.HasPutIn(v.Who.Person) {
			list = append(list, task{"secret-" + r.ID, secretTask(r), "/rounds/" + r.ID + "/secret"})
		}
	}
	return list, err
}

func secretTask(r Round) string {
	if r.One != "" {
		return "A boat that is free wants the secret of another member, and is then paired at once"
	}
	return "A lottery wants a secret of another member"
}

// roundTasks gives the next step of each round that is under way, to who may
// take it.
func (v *visit) roundTasks() ([]task, error) {
	rounds, err := findAll[Round](v.ctx, v.Site, `SELECT doc FROM web.round WHERE state IN ('not frozen', 'opened', 'solved', 'approved') ORDER BY doc->>'opened_at', id`)
	var list []task
	for _, r := range rounds {
		words := ""
		switch coordinator := v.Who.Has(people.Coordinator); r.State() {
		case "not frozen":
			if coordinator && r.Lacks() == 0 {
				words = "A lottery has its secrets: freeze the list of the round"
			}
		case "opened":
			if coordinator {
				words = "A round is open: pair boats and households"
			}
		case "solved":
			if v.Who.Person != r.Solved.SolvedBy {
				words = "A pairing waits for a second member: look at it and approve it"
			}
		case "approved":
			if coordinator {
				words = "A pairing is approved: send the offers"
			}
		}
		if words != "" {
			list = append(list, task{"round-" + r.ID, words, "/rounds/" + r.ID})
		}
	}
	return list, err
}

// handOvers gives the boats that a household has accepted.
func (v *visit) handOvers() ([]task, error) {
	boats, err := v.listBoats(boatFilter{State: OnOffer})
	var list []task
	for _, b := range boats {
		if promised(&b) {
			list = append(list, task{"hand-over-" + string(b.ID), b.Name + " is to be handed over", "/boats/" + string(b.ID) + "/hand-over"})
		}
	}
	return list, err
}

// secondSignatures counts papers that somebody else has signed first.
func (v *visit) secondSignatures() ([]task, error) {
	boats, err := v.giftsWithoutPaper()
	waiting := 0
	for _, b := range boats {
		if b.Prepared != nil && b.Prepared.By != v.Who.Person {
			waiting++
		}
	}
	if err != nil || waiting == 0 {
		return nil, err
	}
	return []task{{"second-signature", count(waiting, "paper waits for a second signature", "papers wait for a second signature"), "/papers"}}, nil
}

func (v *visit) paperless() ([]task, error) {
	boats, err := v.giftsWithoutPaper()
	if err != nil || len(boats) == 0 {
		return nil, err
	}
	return []task{{"no-paper", count(len(boats), "gift has no paper yet", "gifts have no paper yet"), "/papers"}}, nil
}
