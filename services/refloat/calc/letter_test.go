package calc

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The rules are held to their sources in pkg/taxpaper; here: names, nulls and
// order of the answer.
func TestLetter(t *testing.T) {
	const boat = `"country":"US","gift_date":"2026-03-28","what":"boat"`
	for _, c := range []struct{ name, in, want string }{
		{"sold at arm's length",
			`{` + boat + `,"fair_value":220000,"claims":220000,"sold":{"date":"2026-04-18","gross":185000,"arms_length":true,"auction":false},"improvement":null,"use":null,"needy":null,"benefit":null,"acknowledged":null}`,
			`{"receipt":"yes","why_not":null,"cap":185000,"eligible":null,"stated_value":null,"papers":[{"name":"1098-C","copies":["B","C"],"boxes":{"1":"2026-03-28","4a":true,"4b":"2026-04-18","4c":185000,"6a":false},"due":"2026-05-18"}],"filings":[{"name":"1098-C copy A","paper_due":"2027-03-01","electronic_due":"2027-03-31"}],"donor_forms":["8283 section A"],"watch":[],"replace":null,"keep_until":"2033-12-31","warnings":[]}`},
		{"awaiting", `{` + boat + `,"fair_value":220000,"claims":220000}`,
			`{"receipt":"no","why_not":"awaiting sale or decision","cap":null,"eligible":null,"stated_value":null,"papers":[],"filings":[],"donor_forms":[],"watch":[{"what":"1098-C","until":"2026-04-27"}],"replace":null,"keep_until":"2033-12-31","warnings":[]}`},
		{"Form 8282 falls due", `{"country":"US","gift_date":"2026-05-02","what":"goods","fair_value":600000,"claims":600000,"sold":{"date":"2026-06-01","gross":1,"arms_length":true}}`,
			`{"receipt":"yes","why_not":null,"cap":600000,"eligible":null,"stated_value":null,"papers":[{"name":"170(f)(8) letter","copies":[],"boxes":{},"due":"2027-04-15"}],"filings":[{"name":"8282","due":"2026-10-05","paper_due":"2026-10-05"}],"donor_forms":["8283 section B","qualified appraisal"],"watch":[],"replace":null,"keep_until":"2034-12-31","warnings":[{"code":"return-within-three-years","text":"Property claimed above 5,000 USD that leaves the club by 2029-05-02 needs Form 8282 within 125 days, with a copy to the donor."}]}`},
		{"Canadian replacement", `{"country":"CA","gift_date":"2026-03-28","what":"boat","currency":"CAD","fair_value":90000,"benefit":{"kind":"goods","value":9001},"history":[{"serial":"2026-0041","issued":"2026-07-06","wrong":["advantage"]}]}`,
			`{"receipt":"yes","why_not":null,"cap":null,"eligible":80999,"stated_value":90000,"papers":[{"name":"CA official receipt","copies":[],"boxes":{"e.1.i":"2026-03-28","h.1":9001,"h.2":80999,"h.ii":90000},"due":null}],"filings":[],"donor_forms":[],"watch":[],"replace":{"cancel":"2026-0041","new_serial_states":"2026-0041"},"keep_until":"2033-12-31","warnings":[]}`},
		{"British money", `{"country":"UK","gift_date":"2026-03-28","what":"cash","amount":5000}`,
			`{"receipt":"no","why_not":"Gift Aid on money rests on the donor's declaration, not on a receipt","cap":null,"eligible":null,"stated_value":null,"papers":[{"name":"thank-you letter","copies":[],"boxes":{},"due":null}],"filings":[],"donor_forms":[],"watch":[],"replace":null,"keep_until":"2033-12-31","warnings":[]}`},
		{"unknown field", `{` + boat + `,"sold":{"date":"2026-04-18","gross":1,"arms_length":true,"to":"x"}}`, `{"error":{"field":"sold.to","reason":"unknown field"}}`},
		{"missing field", `{` + boat + `,"sold":{"date":"2026-04-18","arms_length":true}}`, `{"error":{"field":"sold.gross","reason":"missing"}}`},
		{"cash without amount", `{"country":"US","gift_date":"2026-03-28","what":"cash"}`, `{"error":{"field":"amount","reason":"missing"}}`},
		{"negative", `{` + boat + `,"claims":-1}`, `{"error":{"field":"claims","reason":"must not be negative"}}`},
		{"fraction of a cent", `{` + boat + `,"claims":1.5}`, `{"error":{"field":"claims","reason":"must be a whole number"}}`},
		{"sold before the gift", `{` + boat + `,"sold":{"date":"2026-03-27","gross":1,"arms_length":true}}`, `{"error":{"field":"sold.date","reason":"lies before the gift"}}`},
		{"another country", `{"country":"FR","gift_date":"2026-03-28","what":"boat"}`, `{"error":{"field":"country","reason":"must be one of US, CA, UK"}}`},
		{"another currency", `{` + boat + `,"currency":"CAD"}`, `{"error":{"field":"currency","reason":"must be USD, in which the thresholds are stated"}}`},
		{"nameless paper", `{` + boat + `,"history":[{"serial":"","issued":"2026-07-06"}]}`, `{"error":{"field":"history[0].serial","reason":"must not be empty"}}`},
	} {
		t.Run(c.name, func(t *testing.T) { answersExactly(t, letterCalculator, c.in, c.want) })
	}
}

func TestLetterReadsEveryField(t *testing.T) {
	code, out, problems := run(letterCalculator, `{"country":"US","gift_date":"2026-03-28","what":"boat","currency":"USD","amount":null,"fair_value":160000,"paid":20000,
		"claims":150000,"similar_this_year":400000,"cost":1,"acquired":"2020-01-01","acquired_to_give":true,"appraisal":{"value":1,"by":"I. Sorrel","address":"Amberjay"},
		"sold":{"date":"2027-06-01","gross":130000,"arms_length":true,"auction":true},"improvement":{"work":["new deck"],"paid_by":"club","major":true},
		"use":{"description":"weekly fleet","from":"2026-04-01","to":"2027-04-01","regular":true,"significant_attested_by":"R. Alder"},
		"needy":{"attested_by":"T. Reed","transport_need":true,"price":0},"benefit":{"kind":"token","value":1000,"cost":500,"logo":true},
		"acknowledged":"2026-04-01","certified":"5a","history":[{"serial":"1","issued":"2026-04-01","wrong":[]}],"final":true}`)
	require.Equal(t, ExitOK, code, problems)
	var letter struct {
		Cap    int64
		Papers []struct{ Boxes map[string]any }
	}
	require.NoError(t, json.Unmarshal([]byte(out), &letter))
	assert.Equal(t, int64(140000), letter.Cap)
	assert.Equal(t, map[string]any{"1": "2026-03-28", "5a": true, "5c": "Improvement: new deck. Use: weekly fleet, from 2026-04-01 to 2027-04-01",
		"6a": true, "6b": 21000.0, "6c": "money and a token"}, letter.Papers[0].Boxes)
}

func TestLetterExplainsItsExcludedItemsAndSources(t *testing.T) {
	_, text, _ := run(letterCalculator, "", "--explain")
	for _, part := range []string{"cleaning,", "seats,", "small repairs,", "Rev. Proc. 2025-32", "US-VEH-30D-SALE"} {
		assert.Contains(t, text, part)
	}
	for line := range strings.Lines(wrapped([]string{"one", "two", "three"}, 10)) {
		assert.Less(t, len(line), 12)
	}
}
