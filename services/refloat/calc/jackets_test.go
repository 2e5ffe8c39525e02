package calc

import "testing"

// 33 CFR 175.15 and 175.17; see pkg/jackets for every rule.
func TestJackets(t *testing.T) {
	note := `,"note":"` + jacketsNote + `"}`
	for _, c := range []struct{ name, in, want string }{
		{"canoe with a child", `{"boat":"canoe","length_ft":17,"ages":[41,12.99],"racing":false}`, `{"wearable":2,"throwable":0,"must_wear":1}`},
		{"rowboat", `{"boat":"rowboat","length_ft":17,"ages":[41,40]}`, `{"wearable":2,"throwable":1,"must_wear":0}`},
		{"nobody named", `{"boat":"board","length_ft":12,"ages":[],"racing":null}`, `{"wearable":0,"throwable":0,"must_wear":0}`},
		{"racing kayak", `{"boat":"kayak","length_ft":17,"ages":[30,12],"racing":true}`, `{"wearable":0,"throwable":0,"must_wear":1` + note},
		{"sailboard", `{"boat":"sailboard","length_ft":9,"ages":[30]}`, `{"wearable":0,"throwable":0,"must_wear":0` + note},
		{"racing raft", `{"boat":"raft","length_ft":9,"ages":[30],"racing":true}`, `{"error":{"field":"racing","reason":"is for canoes, kayaks and rowboats alone"}}`},
		{"negative age", `{"boat":"raft","length_ft":9,"ages":[30,-1]}`, `{"error":{"field":"ages[1]","reason":"must not be negative"}}`},
		{"text for an age", `{"boat":"raft","length_ft":9,"ages":["30"]}`, `{"error":{"field":"ages[0]","reason":"must be a number"}}`},
		{"no length", `{"boat":"raft","length_ft":0,"ages":[]}`, `{"error":{"field":"length_ft","reason":"must be greater than 0"}}`},
		{"no ages", `{"boat":"raft","length_ft":9}`, `{"error":{"field":"ages","reason":"missing"}}`},
		{"yacht", `{"boat":"yacht","length_ft":9,"ages":[]}`, `{"error":{"field":"boat","reason":"must be one of canoe, kayak, board, raft, rowboat, sailboard"}}`},
	} {
		t.Run(c.name, func(t *testing.T) { answersExactly(t, jacketsCalculator, c.in, c.want) })
	}
}
