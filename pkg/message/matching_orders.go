package message

import (
	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/people"
)

// The commands of the matching room. A coordinator's, unless said otherwise.
type (
	// MakeRequest asks for a boat. Anyone, through the form; a coordinator for
	// somebody who is not at ease with forms.
	MakeRequest struct {
		Request   string    `json:"request"`
		Household people.ID `json:"household"`
		// Details introduce the household when the club does not know it yet.
		Details *PersonDetails `json:"details,omitempty"`
		Consent string         `json:"consent"`
		Link    string         `json:"link"`
		Wish    Wish           `json:"wish"`
		Boats   int            `json:"boats"`
		// Separate makes each of several boats a request of its own: for an organisation,
		// by a coordinator. Otherwise one request gets them one after the other.
		Separate bool `json:"separate,omitempty"`
		// ForMinor says that the paddler who asks is under age, and Guardian is the
		// adult; then Details are the guardian's.
		ForMinor bool `json:"for_minor,omitempty"`
	}
	// ChangeRequest changes the wish. The applicant by private link, or a
	// coordinator.
	ChangeRequest struct {
		Request string `json:"request"`
		Wish    Wish   `json:"wish"`
	}
	// SetTier places a request in one of the club's written priorities.
	SetTier struct {
		Request string `json:"request"`
		Tier    int    `json:"tier"`
		Why     string `json:"why"`
	}
	// EndRequest withdraws (the applicant) or declines (a coordinator) a request.
	EndRequest struct {
		Request string `json:"request"`
		How     string `json:"how"`
		Why     string `json:"why,omitempty"`
	}
	// CommitSecret puts a secret into the lottery of a round that is not open yet:
	// two members do, any but auditors. The first one makes the round.
	CommitSecret struct {
		Round  string `json:"round"`
		Secret string `json:"secret"` // 20 to 200 characters that nobody can guess
		// Boat makes the round one for this boat alone. It is said with the first secret,
		// by a coordinator; the second one freezes the list and pairs it.
		Boat boat.ID `json:"boat,omitempty"`
	}
	// RulePair wants a boat and a request paired, or kept apart, in a round whose list is
	// not frozen yet; or takes that back.
	RulePair struct {
		Round   string  `json:"round"`
		Boat    boat.ID `json:"boat"`
		Request string  `json:"request"`
		How     string  `json:"how"` // pin, forbid or free
		Why     string  `json:"why"`
	}
	// OpenRound freezes boats and requests; empty lists mean all that are free.
	OpenRound struct {
		Round    string    `json:"round"`
		Boats    []boat.ID `json:"boats,omitempty"`
		Requests []string  `json:"requests,omitempty"`
	}
	// SolveRound computes the pairing; when offers were sent and some came to
	// nothing, that of what is left.
	SolveRound struct {
		Round string `json:"round"`
	}
	// ApproveRound agrees to a solved round. Another member than who solved it,
	// and nobody whose own household takes part.
	ApproveRound struct {
		Round string `json:"round"`
		// Send sends the offers at once, for the club's usual days. A coordinator's.
		Send bool `json:"send,omitempty"`
	}
	// SendOffers offers the boats of an approved round.
	SendOffers struct {
		Round string `json:"round"`
		Days  int    `json:"days"` // how long the offers stand
	}
	// AnswerOffer accepts or declines. The applicant by private link, or a
	// coordinator on the applicant's word.
	AnswerOffer struct {
		Offer  string  `json:"offer"`
		Boat   boat.ID `json:"boat"`
		Answer string  `json:"answer"` // accepted, declined, withdrawn
		Why    string  `json:"why,omitempty"`
	}
	// CloseRound ends a round.
	CloseRound struct {
		Round string `json:"round"`
		Why   string `json:"why"`
	}
	// HandOver gives the boat to the household that accepted it.
	HandOver struct {
		Boat    boat.ID    `json:"boat"`
		On      clock.Date `json:"on"`
		Checks  []string   `json:"checks"`
		Release string     `json:"release"`
	}
	// SetRelease puts in a version of the club's own release text. An administrator's.
	SetRelease struct {
		Version string     `json:"version"`
		From    clock.Date `json:"from"`
		Text    string     `json:"text"`
	}
	// KeepBack keeps a boat out of rounds and hand-overs until it is released.
	KeepBack struct {
		Boat boat.ID `json:"boat"`
		Why  string  `json:"why"`
	}
	// LetOut lets a boat that was held go out again.
	LetOut struct {
		Boat boat.ID `json:"boat"`
		Why  string  `json:"why"`
	}
)

// Verb is constant.
func (SetRelease) Verb() string { return "matching.set-release" }

// Verb is constant.
func (KeepBack) Verb() string { return "matching.keep-back" }

// Verb is constant.
func (LetOut) Verb() string { return "matching.let-out" }

// Verb is constant.
func (MakeRequest) Verb() string { return "matching.make-request" }

// Verb is constant.
func (ChangeRequest) Verb() string { return "matching.change-request" }

// Verb is constant.
func (SetTier) Verb() string { return "matching.set-tier" }

// Verb is constant.
func (EndRequest) Verb() string { return "matching.end-request" }

// Verb is constant.
func (CommitSecret) Verb() string { return "matching.commit-secret" }

// Verb is constant.
func (RulePair) Verb() string { return "matching.rule-pair" }

// Verb is constant.
func (OpenRound) Verb() string { return "matching.open-round" }

// Verb is constant.
func (SolveRound) Verb() string { return "matching.solve-round" }

// Verb is constant.
func (ApproveRound) Verb() string { return "matching.approve-round" }

// Verb is constant.
func (SendOffers) Verb() string { return "matching.send-offers" }

// Verb is constant.
func (AnswerOffer) Verb() string { return "matching.answer-offer" }

// Verb is constant.
func (CloseRound) Verb() string { return "matching.close-round" }

// Verb is constant.
func (HandOver) Verb() string { return "matching.hand-over" }

// The questions that the matching room answers.
type (
	// HandOverSheet asks for the printable check list of a boat that was accepted.
	HandOverSheet struct {
		Boat boat.ID `json:"boat"`
	}
	// Sheet answers with a PDF, and a donor's paper also with the same as plain text.
	Sheet struct {
		Name string `json:"name"`
		PDF  []byte `json:"pdf"`
		Text string `json:"text,omitempty"`
	}
	// ReadWish asks for a request's wish in clear. Coordinators, and the
	// applicant by private link. It answers with the Wish.
	ReadWish struct {
		Request string `json:"request"`
	}
	// CheckList asks for the lines that are ticked when a boat is handed over.
	// Coordinators, once a household has accepted the boat.
	CheckList struct {
		Boat boat.ID `json:"boat"`
	}
	// CheckLines answers CheckList. HandOver wants every line, word for word, and
	// the version of the release text.
	CheckLines struct {
		Boat    boat.ID  `json:"boat"`
		Lines   []string `json:"lines"`
		Release string   `json:"release"`
		// Text is the release text itself; nil where it does not stand in the book.
		Text     *ReleaseSet `json:"text,omitempty"`
		SignedBy string      `json:"signed_by"` // who has to sign: SignedByAdult or SignedByGuardian
	}
	// JacketsPromised asks whether the club's life jackets are enough for everybody who
	// is paired in a round or waits for a boat that was offered, all together; of no
	// round, for those who wait. Coordinators.
	JacketsPromised struct {
		Round string `json:"round,omitempty"`
	}
	// JacketCounts answers JacketsPromised with the sizes of which more are wanted than
	// the club has. Nothing of it is kept.
	JacketCounts struct {
		Counted bool          `json:"counted"` // the club has counted its jackets
		Unknown int           `json:"unknown"` // people whose size cannot be told
		Short   []JacketCount `json:"short"`
	}
	// JacketCount is one size of life jackets.
	JacketCount struct {
		Size   string `json:"size"`
		Wanted int    `json:"wanted"`
		Has    int    `json:"has"`
	}
	// ReadReleases asks for all versions of the release text. Any member.
	ReadReleases struct{}
	// Releases answers ReadReleases, in the order in which they were put in.
	Releases struct {
		Versions []ReleaseSet `json:"versions"`
		InForce  string       `json:"in_force"` // the version that is signed today; empty where none was put in
	}
	// ExplainRequest asks how the boats that are with the club fit one request, as
	// things stand now. Coordinators, and the applicant by private link, who gets
	// counts and their own reasons but no boats.
	ExplainRequest struct {
		Request string `json:"request"`
	}
	// RequestExplained answers ExplainRequest. Nothing in it may be kept: it holds
	// the household's masses and needs.
	RequestExplained struct {
		Request string `json:"request"`
		// Present boats are weighed; Fitting of them fit.
		Present int `json:"present"`
		Fitting int `json:"fitting"`
		// Bundles counts how many times two boats with one seat each fit together, for
		// who would take two.
		Bundles int         `json:"bundles,omitempty"`
		Rules   []RuleCount `json:"rules"`
		// Boats are for coordinators only; those that fit come first, best first.
		Boats []BoatFit `json:"boats,omitempty"`
		// Reasons are those of the last approved round in which the request took part.
		Reasons []string `json:"reasons,omitempty"`
		// Limits say what the numbers do not cover. They stand beside them.
		Limits []string `json:"limits"`
	}
	// RuleCount says how many boats one rule keeps from a request.
	RuleCount struct {
		Rule   string `json:"rule"`
		Source string `json:"source"`
		No     int    `json:"no"`  // boats that do not fit by this rule
		Ask    int    `json:"ask"` // boats of which it cannot be told yet
		Alone  int    `json:"alone"`
		Words  string `json:"words"` // what the rule asks for
	}
	// BoatFit is how one boat fits. Score counts only where it fits.
	BoatFit struct {
		Boat     boat.ID       `json:"boat"`
		Name     string        `json:"name"`
		Fits     bool          `json:"fits"`
		Score    int64         `json:"score"`
		Parts    []ScorePart   `json:"parts,omitempty"`
		Verdicts []RuleVerdict `json:"verdicts"`
	}
	// ScorePart is a named part of a score, in whole points.
	ScorePart struct {
		Name   string `json:"name"`
		Points int64  `json:"points"`
		Words  string `json:"words"`
	}
	// WhatIf asks who would be served in a round if boats were held back and
	// measures taken: cart, hands, delivery, storage. Coordinators. Nothing of it is
	// kept.
	WhatIf struct {
		Round    string    `json:"round"`
		HoldBack []boat.ID `json:"hold_back,omitempty"`
		Measures []string  `json:"measures,omitempty"`
	}
	// WhatIfAnswer answers WhatIf with counts by tier, tier 1 first: as things are
	// now, as asked, and with each measure alone.
	WhatIfAnswer struct {
		Now      []int           `json:"now"`
		Then     []int           `json:"then"`
		Measures []MeasureEffect `json:"measures"`
	}
	// MeasureEffect is what one measure alone would do.
	MeasureEffect struct {
		Measure string `json:"measure"`
		Words   string `json:"words"`
		Served  []int  `json:"served"`
	}
	// WhoWasServed asks for the report on who got boats, who waits and which rules
	// kept boats out. Coordinators, administrators and auditors.
	WhoWasServed struct{}
	// ServedReport answers WhoWasServed. Small numbers are suppressed in it.
	ServedReport struct {
		Tiers    []ServedRow `json:"tiers"`
		Needs    []ServedRow `json:"needs"` // and how the party comes; of requests that can still be read
		Waited   []WaitRow   `json:"waited"`
		Refusals []RuleTally `json:"refusals"`
		Few      int         `json:"few"` // numbers from 1 to below this are not told
	}
	// ServedRow counts requests of one sort: all, and those that got a boat.
	ServedRow struct {
		Name   string `json:"name"`
		Asked  Tally  `json:"asked"`
		Served Tally  `json:"served"`
	}
	// WaitRow counts requests by how long they waited: until the boat, or so far.
	WaitRow struct {
		Name    string `json:"name"`
		Served  Tally  `json:"served"`
		Waiting Tally  `json:"waiting"`
	}
	// RuleTally counts the requests without a boat from which a rule kept boats.
	RuleTally struct {
		Rule     string `json:"rule"`
		Requests Tally  `json:"requests"`
	}
	// Tally is a number, or that it is not told because it is small or would give
	// a small one away.
	Tally struct {
		N      int  `json:"n"`
		Hidden bool `json:"hidden,omitempty"`
	}
	// RuleVerdict is what one rule says of one boat: fits, no or ask.
	RuleVerdict struct {
		Rule    string `json:"rule"`
		Answer  string `json:"answer"`
		Because string `json:"because"`
		Source  string `json:"source"`
	}
)

// Verb is constant.
func (HandOverSheet) Verb() string { return "matching.hand-over-sheet" }

// Verb is constant.
func (JacketsPromised) Verb() string { return "matching.jackets-promised" }

// Verb is constant.
func (ReadReleases) Verb() string { return "matching.read-releases" }

// Verb is constant.
func (ReadWish) Verb() string { return "matching.read-wish" }

// Verb is constant.
func (CheckList) Verb() string { return "matching.check-list" }

// Verb is constant.
func (WhatIf) Verb() string { return "matching.what-if" }

// Verb is constant.
func (WhoWasServed) Verb() string { return "matching.who-was-served" }

// Verb is constant.
func (ExplainRequest) Verb() string { return "matching.explain-request" }
