package message

import (
	"time"

	"refloat.example/pkg/boat"
	"refloat.example/pkg/clock"
	"refloat.example/pkg/people"
)

// Wish is what an applicant asks for. All of it is sealed with the household's
// key, because masses, needs and what a person can lift are personal.
type Wish struct {
	Types    []boat.Type `json:"types"`              // any of these will do, best first
	Adults   []Paddler   `json:"adults"`             // at least one
	Children []Paddler   `json:"children,omitempty"` // under 18
	AnimalsG []int       `json:"animals_g,omitempty"`
	GearG    int         `json:"gear_g,omitempty"`
	Water    string      `json:"water"` // sheltered lake, river class I, coast …
	// Experience is none, some or much.
	Experience string         `json:"experience"`
	Needs      []boat.Feature `json:"needs,omitempty"`
	// Carriers and EachLiftsG: how many hands there are and what each may lift
	// when the boat goes from the car to the water; 0 means not stated.
	Carriers   int  `json:"carriers"`
	EachLiftsG int  `json:"each_lifts_g,omitempty"`
	HasCart    bool `json:"has_cart,omitempty"`
	// Transport is roof, trailer or none; RoofLoadG is the vehicle's stated
	// limit, the rack's own mass included; RackG is that mass.
	Transport string `json:"transport"`
	RoofLoadG int    `json:"roof_load_g,omitempty"`
	RackG     int    `json:"rack_g,omitempty"`
	// VehicleMM is the vehicle's length from bumper to bumper; 0 means not stated.
	VehicleMM int `json:"vehicle_mm,omitempty"`
	// OwnJackets says that everybody has a life jacket that fits.
	OwnJackets bool `json:"own_jackets,omitempty"`
	// TwoSingles says that two boats with one seat each would do in place of one
	// with two: for two adults, each of whom paddles alone.
	TwoSingles bool `json:"two_singles,omitempty"`
	// StorageMM is the longest boat that there is room for; 0 means not stated.
	StorageMM int    `json:"storage_mm,omitempty"`
	Words     string `json:"words,omitempty"`
}

// Paddler is a person in the boat.
type Paddler struct {
	Years int `json:"years,omitempty"`
	MassG int `json:"mass_g,omitempty"` // 0: not stated
}

// RequestMade is said when somebody asks for a boat.
type RequestMade struct {
	v2
	Request   string    `json:"request"`
	Household people.ID `json:"household"`
	// NewHousehold introduces the household when the club did not know it.
	NewHousehold *NewPerson `json:"new_household,omitempty"`
	// Link is the id of the private link by which the applicant follows the
	// request; the people room makes it when it hears this event.
	Link   string `json:"link"`
	Sealed string `json:"sealed"` // Wish
	Boats  int    `json:"boats"`  // how many are asked for; one, unless an organisation asks
	// Of several requests that an organisation made by one form, each for one boat:
	// which one this is, how many there are, and the first one's id.
	Number int    `json:"number,omitempty"`
	Of     int    `json:"of,omitempty"`
	First  string `json:"first,omitempty"`
}

// Kind is constant.
func (RequestMade) Kind() Kind { return "matching.request-made" }

// RequestChanged is said when the applicant changed the wish.
type RequestChanged struct {
	v1
	Request string `json:"request"`
	Sealed  string `json:"sealed"` // Wish
}

// Kind is constant.
func (RequestChanged) Kind() Kind { return "matching.request-changed" }

// TierSet is said when a coordinator places a request in one of the club's
// written priorities, 1 being served first.
type TierSet struct {
	v1
	Request string `json:"request"`
	Tier    int    `json:"tier"`
	Why     string `json:"why"`
}

// Kind is constant.
func (TierSet) Kind() Kind { return "matching.tier-set" }

// RequestEnded is said when a request stands no more: withdrawn by the
// applicant, declined by the club, or placed.
type RequestEnded struct {
	v1
	Request string `json:"request"`
	How     string `json:"how"`              // withdrawn, declined, placed
	Why     string `json:"why,omitempty"`    // in the club's words
	Sealed  string `json:"sealed,omitempty"` // why, in the household's words: a string, under SealWords
	// KeepUntil is the day on which the household's data is erased unless
	// something else needs it.
	KeepUntil clock.Date `json:"keep_until"`
}

// Kind is constant.
func (RequestEnded) Kind() Kind { return "matching.request-ended" }

// HouseholdAsked is said together with RequestMade. It stands in the household's
// own stream, so that two forms sent in the same moment cannot both become
// requests. It concerns the matching room alone.
type HouseholdAsked struct {
	v2
	Household people.ID `json:"household"`
	Request   string    `json:"request"`
	Also      []string  `json:"also,omitempty"` // further requests of an organisation, made by the same form
}

// Kind is constant.
func (HouseholdAsked) Kind() Kind { return "matching.household-asked" }

// MatchingHousehold is a household's stream in the matching room.
func MatchingHousehold(id people.ID) string { return "matching.household/" + string(id) }

// RequestTied is said together with OfferMade. It stands in the request's
// stream, so that a household is never offered two boats at once. It concerns
// the matching room alone.
type RequestTied struct {
	v2
	Request string  `json:"request"`
	Offer   string  `json:"offer"`
	Boat    boat.ID `json:"boat"`
	// With and WithOffer are the second boat of two that are offered together, and
	// its offer.
	With      boat.ID `json:"with,omitempty"`
	WithOffer string  `json:"with_offer,omitempty"`
}

// Kind is constant.
func (RequestTied) Kind() Kind { return "matching.request-tied" }

// RequestFreed is said when a request may take part in rounds again: its offer
// ended without a boat, or it asks for more boats than it has got so far.
type RequestFreed struct {
	v1
	Request string `json:"request"`
	Offer   string `json:"offer"`
	// Placed says that the household has got the boat of that offer.
	Placed bool `json:"placed,omitempty"`
}

// Kind is constant.
func (RequestFreed) Kind() Kind { return "matching.request-freed" }

// SecretCommitted is said when a member puts a secret into the lottery of a round
// whose list is not frozen yet. It takes two members, so that no one alone can
// steer the lottery by the list: what the other has put in is not known yet, and
// what one has put in oneself cannot be changed.
type SecretCommitted struct {
	v2
	Round  string    `json:"round"`
	Member people.ID `json:"member"`
	// Commitment is SHA-256, in hexadecimal, over the secret's UTF-8 bytes.
	Commitment string `json:"commitment"`
	Sealed     string `json:"sealed"` // the secret: a string, under the round's own key and SealSecret
	// Boat makes the round one for this boat alone: with the second secret its list is
	// frozen and it is paired at once.
	Boat boat.ID `json:"boat,omitempty"`
}

// Kind is constant.
func (SecretCommitted) Kind() Kind { return "matching.secret-committed" }

// SealSecret is the purpose under which the secrets of a round's lottery are
// sealed until they are revealed.
const SealSecret = "round.secret"

// What a coordinator can rule about a pair before the list is frozen.
const (
	RuledIn  = "pin"    // the pair stands if it fits
	RuledOut = "forbid" // the pair does not stand
	RuledNot = "free"   // an earlier ruling is taken back
)

// PairRuled is said when a coordinator, before the list of a round is frozen, wants a
// boat and a request paired or kept apart. A later one about the same pair takes the
// place of an earlier one. No ruling pairs what does not fit.
type PairRuled struct {
	v1
	Round   string  `json:"round"`
	Boat    boat.ID `json:"boat"`
	Request string  `json:"request"`
	How     string  `json:"how"` // RuledIn, RuledOut or RuledNot
	Why     string  `json:"why"` // in the club's words
}

// Kind is constant.
func (PairRuled) Kind() Kind { return "matching.pair-ruled" }

// RoundOpened is said when a coordinator freezes who and what takes part.
type RoundOpened struct {
	v2
	Round    string         `json:"round"`
	Boats    []boat.ID      `json:"boats"`
	Requests []RoundRequest `json:"requests"`
	// ListHash is SHA-256, in hexadecimal, over the canonical text of Boats and
	// Requests.
	ListHash string `json:"list_hash"`
	// Seed decides between equal optima in rounds before the second schema, in
	// which it followed from the list. Later ones draw it from two secrets.
	Seed string `json:"seed,omitempty"`
	// Priorities are the club's written priorities as they were when the list was
	// frozen, tier 1 first.
	Priorities []string `json:"priorities,omitempty"`
}

// RoundRequest is a request as it stood when the round was frozen.
type RoundRequest struct {
	Request string `json:"request"`
	Version int64  `json:"version"`
	Tier    int    `json:"tier"`
}

// Kind is constant.
func (RoundOpened) Kind() Kind { return "matching.round-opened" }

// RoundSolved is said when the pairing was computed and its proof checked. After
// offers were sent it may be said again: then accepted pairs stay, and of the best
// pairings of the rest it is one that keeps most open offers.
type RoundSolved struct {
	v3
	Round        string         `json:"round"`
	Pairs        []RoundPair    `json:"pairs"`
	Unserved     []RoundReason  `json:"unserved"`
	ServedByTier []int          `json:"served_by_tier"`
	Total        int64          `json:"total"`
	Step         int64          `json:"step"`
	Candidates   []RoundFit     `json:"candidates"` // every pair that fits, by request
	BoatPrices   []RoundPrice   `json:"boat_prices"`
	AskPrices    []RoundPrice   `json:"ask_prices"`
	SolvedBy     people.ID      `json:"solved_by"`
	Blocks       []RoundBlocked `json:"blocks,omitempty"`
	// Secrets are what members had committed themselves to, sorted by commitment.
	// Seed, which decides between equal optima, is SHA-256 in hexadecimal over
	// the secrets, the round's id and the list's hash, a line feed between them.
	Secrets []RoundSecret `json:"secrets,omitempty"`
	Seed    string        `json:"seed,omitempty"`
	// Ended are pairs whose offers of this round came to nothing, so that they are
	// not paired again.
	Ended []RoundEnded `json:"ended,omitempty"`
	// Bundles are two boats with one seat each that fit a household together. The
	// proof is of the round without the boats and requests of those that were taken;
	// ServedByTier and Total count these too.
	Bundles []RoundBundle `json:"bundles,omitempty"`
	// Search says how the bundles were chosen; nil where none was possible.
	Search *RoundSearch `json:"search,omitempty"`
}

// RoundBundle is two boats that fit one request together: each by its place in the
// Boats of RoundOpened, counted from 0, with the points of both together.
type RoundBundle struct {
	Request string `json:"request"`
	Boats   [2]int `json:"boats"`
	Score   int64  `json:"score"`
}

// RoundSearch is how bundles were chosen: by pairing the round many times, which
// has a limit.
type RoundSearch struct {
	Rounds int `json:"rounds"` // pairings that were computed
	Limit  int `json:"limit"`  // that were allowed
	// Stopped says that the limit stopped it. Otherwise no choice of bundles is
	// better; then none is better than BoundServed (by tier, tier 1 first) and,
	// serving as many, than BoundTotal.
	Stopped     bool  `json:"stopped,omitempty"`
	BoundServed []int `json:"bound_served,omitempty"`
	BoundTotal  int64 `json:"bound_total,omitempty"`
}

// RoundSecret is a secret of the lottery, revealed.
type RoundSecret struct {
	Member people.ID `json:"member"`
	Secret string    `json:"secret"`
}

// RoundEnded is a pair whose offer came to nothing.
type RoundEnded struct {
	Boat    boat.ID `json:"boat"`
	Request string  `json:"request"`
	With    boat.ID `json:"with,omitempty"` // the other boat that was offered with it
}

// The ways in which a pair of a solution can stand already.
const (
	PairAccepted = "accepted" // the household has said yes
	PairOffered  = "offered"  // it has not answered yet
)

// RoundPair is a pair of the solution.
type RoundPair struct {
	Boat    boat.ID `json:"boat"`
	Request string  `json:"request"`
	Score   int64   `json:"score"`
	// Stands says that the pair was offered by an earlier solution of the round:
	// PairAccepted or PairOffered.
	Stands string `json:"stands,omitempty"`
	// With is the other of two boats that the household takes together: there is a
	// pair for each, both with the points of both, which Total counts once.
	With boat.ID `json:"with,omitempty"`
	// Reasons say why this boat fits, in sentences that hold nothing of the
	// household's; Sealed holds the same with the household's numbers.
	Reasons []string `json:"reasons"`
	Sealed  string   `json:"sealed,omitempty"` // []string, under SealReasons
}

// RoundFit holds the boats that fit one request: each by its place in the Boats
// of RoundOpened, counted from 0, with its score in whole points. Together with
// the tiers they are what the pairing was made from.
type RoundFit struct {
	Request string  `json:"request"`
	Boats   []int   `json:"boats"`
	Scores  []int64 `json:"scores"`
}

// RoundPrice is one price of the proof of optimality.
type RoundPrice struct {
	Of    string `json:"of"`
	Price int64  `json:"price"`
}

// RoundReason says why a request was not served, in sentences that name nobody.
type RoundReason struct {
	Request string   `json:"request"`
	Fitting int      `json:"fitting"`           // how many boats of the round would fit
	Bundles int      `json:"bundles,omitempty"` // how many times two boats together would
	Reasons []string `json:"reasons"`
	Sealed  string   `json:"sealed,omitempty"` // []string, under SealReasons
}

// SealReasons is the purpose under which the reasons for a request's outcome are
// sealed with the household's key, because they hold masses and needs.
const SealReasons = "request.reasons"

// SealWords is the purpose under which a household's reason for leaving a boat
// or withdrawing is sealed with its key: people write of themselves there.
const SealWords = "request.words"

// RoundBlocked counts, for a request, how many boats each rule excluded.
type RoundBlocked struct {
	Request string `json:"request"`
	Rule    string `json:"rule"`
	Boats   int    `json:"boats"`
}

// Kind is constant.
func (RoundSolved) Kind() Kind { return "matching.round-solved" }

// RoundApproved is said when a second member agreed to a solved round.
type RoundApproved struct {
	v1
	Round string    `json:"round"`
	By    people.ID `json:"by"`
}

// Kind is constant.
func (RoundApproved) Kind() Kind { return "matching.round-approved" }

// OffersSent is said when the offers of an approved solution were made. It
// concerns the matching room alone.
type OffersSent struct {
	v1
	Round     string   `json:"round"`
	Offers    []string `json:"offers"`
	TakenBack []string `json:"taken_back,omitempty"` // open offers that the solution did not keep
}

// Kind is constant.
func (OffersSent) Kind() Kind { return "matching.offers-sent" }

// RoundClosed is said when no offer of the round is open any more, or when the
// round was given up.
type RoundClosed struct {
	v1
	Round string `json:"round"`
	Why   string `json:"why"`
}

// Kind is constant.
func (RoundClosed) Kind() Kind { return "matching.round-closed" }

// OfferMade is said when a boat is offered to a household. Two boats that are
// offered together have an offer each, said at once; they end by one answer.
type OfferMade struct {
	v2
	Offer     string    `json:"offer"`
	Round     string    `json:"round"`
	Boat      boat.ID   `json:"boat"`
	Request   string    `json:"request"`
	Household people.ID `json:"household"`
	Until     time.Time `json:"until"`
	Reasons   []string  `json:"reasons"`
	// With and WithOffer are the other boat that is offered together with this one,
	// and its offer.
	With      boat.ID `json:"with,omitempty"`
	WithOffer string  `json:"with_offer,omitempty"`
}

// Leads says whether the offer speaks for itself: of two boats that are offered
// together one offer speaks for both.
func (o OfferMade) Leads() bool { return o.With == "" || o.Boat < o.With }

// Kind is constant.
func (OfferMade) Kind() Kind { return "matching.offer-made" }

// OfferAnswered is said when an offer ends: accepted, declined, lapsed or
// withdrawn. An offer ends exactly once.
type OfferAnswered struct {
	v1
	Offer   string  `json:"offer"`
	Boat    boat.ID `json:"boat"`
	Request string  `json:"request"`
	Answer  string  `json:"answer"`
	Why     string  `json:"why,omitempty"`    // in the club's words
	Sealed  string  `json:"sealed,omitempty"` // why, in the household's words: a string, under SealWords
}

// Kind is constant.
func (OfferAnswered) Kind() Kind { return "matching.offer-answered" }

// PromiseEnded is said when a boat that a household had accepted does not go to
// it after all: the request ended before the hand-over, or the boat left the
// club. The boat is then promised to nobody. The offer stays accepted, because an
// offer ends once.
type PromiseEnded struct {
	v1
	Offer   string  `json:"offer"`
	Boat    boat.ID `json:"boat"`
	Request string  `json:"request"`
	Why     string  `json:"why"`
}

// Kind is constant.
func (PromiseEnded) Kind() Kind { return "matching.promise-ended" }

// ReleaseSet is said when an administrator put in a version of the club's own text
// that households sign at a hand-over. Earlier versions stay, for what was signed.
type ReleaseSet struct {
	v1
	Version string     `json:"version"` // the club's name of it, used once
	From    clock.Date `json:"from"`    // the first day on which it is signed
	Text    string     `json:"text"`    // word for word
	// SHA256 is the hash of Text in UTF-8, in hexadecimal.
	SHA256 string `json:"sha256"`
}

// Kind is constant.
func (ReleaseSet) Kind() Kind { return "matching.release-set" }

// Who signs the release text.
const (
	SignedByAdult    = "adult"
	SignedByGuardian = "guardian" // the request is for somebody under age
)

// BoatHandedOver is said when a household has the boat, against the check list.
type BoatHandedOver struct {
	v2
	Boat      boat.ID    `json:"boat"`
	Request   string     `json:"request"`
	Household people.ID  `json:"household"`
	On        clock.Date `json:"on"`
	Checks    []string   `json:"checks"`  // the lines that were ticked
	Release   string     `json:"release"` // version of the club's own text that was signed
	// ReleaseSHA256 is the hash of that text, in hexadecimal; empty where the text does
	// not stand in the book.
	ReleaseSHA256 string `json:"release_sha256,omitempty"`
	SignedBy      string `json:"signed_by,omitempty"` // SignedByAdult or SignedByGuardian; empty before the second schema
}

// Kind is constant.
func (BoatHandedOver) Kind() Kind { return "matching.boat-handed-over" }

// BoatKeptBack is said when a coordinator keeps a boat out of rounds and hand-overs,
// whatever else is known of it. An offer that is out stays.
type BoatKeptBack struct {
	v1
	Boat boat.ID `json:"boat"`
	Why  string  `json:"why"`
}

// Kind is constant.
func (BoatKeptBack) Kind() Kind { return "matching.boat-kept-back" }

// BoatLetOut is said when a boat that was held may go out again.
type BoatLetOut struct {
	v1
	Boat boat.ID `json:"boat"`
	Why  string  `json:"why"`
}

// Kind is constant.
func (BoatLetOut) Kind() Kind { return "matching.boat-let-out" }

var (
	_ = declare[RequestMade](onlyMore)
	_ = declare[RequestChanged]()
	_ = declare[TierSet]()
	_ = declare[RequestEnded]()
	_ = declare[HouseholdAsked](onlyMore)
	_ = declare[RequestTied](onlyMore)
	_ = declare[RequestFreed]()
	_ = declare[SecretCommitted](onlyMore)
	_ = declare[PairRuled]()
	_ = declare[RoundOpened](onlyMore)
	_ = declare[RoundSolved](onlyMore, onlyMore)
	_ = declare[OffersSent]()
	_ = declare[RoundApproved]()
	_ = declare[RoundClosed]()
	_ = declare[OfferMade](onlyMore)
	_ = declare[OfferAnswered]()
	_ = declare[PromiseEnded]()
	_ = declare[BoatHandedOver](onlyMore)
	_ = declare[ReleaseSet]()
	_ = declare[BoatKeptBack]()
	_ = declare[BoatLetOut]()
)
