package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/ledger"
	"refloat.example/pkg/message"
)

// summary is what `serve --demo --once` prints.
type summary struct {
	Boats    int      `json:"boats"`
	Accepted int      `json:"accepted"`
	Declined int      `json:"declined"`
	Placed   int      `json:"placed"`
	Sold     int      `json:"sold"`
	Requests int      `json:"requests"`
	Papers   int      `json:"papers"`
	Sales    int      `json:"sales"` // comparables
	Events   int64    `json:"events"`
	Facts    string   `json:"facts"` // digest of the business facts, without ids made at random, and without times
	Ledger   verified `json:"ledger"`
}

type verified struct {
	OK   bool   `json:"ok"`
	Head string `json:"head"`
}

// volatile are the fields of events that differ between two plays of the same
// story: sealed parts and salts are random, some ids come from keys or from an
// event's own id, and some days follow from today.
var volatile = map[string]bool{
	"sealed": true, "salt": true, "digest": true, "file_digest": true, "link": true, "comparable": true, "until": true, "keep_until": true,
}

// summarise reads the whole book, verifies it, and counts.
func summarise(ctx context.Context, book *ledger.Reader) (summary, error) {
	var s summary
	outcome, err := book.Verify(ctx)
	if err != nil {
		return s, err
	}
	s.Events, s.Ledger = outcome.Events, verified{outcome.OK, outcome.Head}
	names := map[boat.ID]string{}
	var facts []string
	err = book.Each(ctx, 0, outcome.Events, func(e message.Event) error {
		body, err := message.Decode(e)
		if err != nil {
			return err
		}
		if logged, ok := body.(message.BoatLogged); ok {
			names[logged.Boat] = logged.Name
		}
		s.count(body)
		fact, err := factOf(e, names[e.Boat])
		facts = append(facts, fact)
		return err
	})
	if err != nil {
		return s, err
	}
	slices.Sort(facts)
	hash := sha256.New()
	for _, fact := range facts {
		fmt.Fprintln(hash, fact)
	}
	s.Facts = hex.EncodeToString(hash.Sum(nil))
	return s, nil
}

func (s *summary) count(body message.Body) {
	switch body.(type) {
	case message.BoatLogged:
		s.Boats++
	case message.BoatAccepted:
		s.Accepted++
	case message.BoatDeclined:
		s.Declined++
	case message.BoatHandedOver:
		s.Placed++
	case message.BoatSold:
		s.Sold++
	case message.SaleTakenBack:
		s.Sold--
	case message.RequestMade:
		s.Requests++
	case message.PaperIssued:
		s.Papers++
	case message.ComparableRecorded:
		s.Sales++
	}
}

// factOf gives an event as a line that is the same in every play.
func factOf(e message.Event, boatName string) (string, error) {
	var data any
	dec := json.NewDecoder(bytes.NewReader(e.Data))
	dec.UseNumber()
	if err := dec.Decode(&data); err != nil {
		return "", err
	}
	plain, err := json.Marshal(withoutVolatile(data))
	return fmt.Sprintf("%s %s %s", e.Kind, boatName, plain), err
}

func withoutVolatile(v any) any {
	switch v := v.(type) {
	case map[string]any:
		kept := map[string]any{}
		for name, value := range v {
			if !volatile[name] {
				kept[name] = withoutVolatile(value)
			}
		}
		return kept
	case []any:
		kept := make([]any, len(v))
		for i, value := range v {
			kept[i] = withoutVolatile(value)
		}
		return kept
	case string:
		if v == today() {
			return "today"
		}
	}
	return v
}
