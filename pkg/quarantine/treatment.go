package quarantine

// Medium is how hot water was brought onto a boat.
type Medium string

// The media that the published minimums speak of.
const (
	Spray         Medium = "hot spray"
	PressureSpray Medium = "hot high-pressure spray"
	Soak          Medium = "hot soak"
	Flush         Medium = "hot flush of the inside"
)

// Media lists them.
var Media = []Medium{Spray, PressureSpray, Soak, Flush}

// A Minimum is a published temperature and contact time. The temperature is that
// of the water where it touches the boat, not in the tank.
type Minimum struct {
	Media   []Medium
	Tenths  int // of a degree Celsius
	Seconds int
	Against string
	Source  string
}

// Minimums are the published ones, in the order of their sources. A hull that
// meets one is no cleaner in places that the water did not reach.
var Minimums = []Minimum{
	{sprays, 600, 5, "quagga mussels", comeau}, {sprays, 540, 10, "quagga mussels", comeau},
	{sprays, 500, 20, "quagga mussels", comeau}, {sprays, 400, 40, "quagga mussels", comeau},
	{sprays, 600, 10, "zebra mussels", "Morse 2009, Biofouling 25(7) (from memory)"},
	{[]Medium{Soak}, 430, 300, "zebra and quagga mussels, spiny water flea", "Beyer, Moy and De Stasio 2011, Environmental Management 47 (ten minutes are more reliable)"},
	{[]Medium{Soak}, 450, 900, "seven invasive species, 99 per cent within an hour", "Anderson and others 2015, Biological Invasions 17"},
	{[]Medium{PressureSpray}, 600, 10, "adult mussels on a hull", umps},
	{[]Medium{Flush}, 489, 130, "larvae in the inside of a boat", umps},
}

var sprays = []Medium{Spray, PressureSpray}

const (
	comeau = "Comeau and others 2011, Biofouling 27(3)"
	umps   = "Uniform Minimum Protocols and Standards, third edition (the fourth was not seen)"
)

// Met gives the minimums that a treatment reaches: its medium, at least as hot, at
// least as long.
func Met(by Medium, tenths, seconds int) []Minimum {
	var met []Minimum
	for _, m := range Minimums {
		for _, medium := range m.Media {
			if medium == by && tenths >= m.Tenths && seconds >= m.Seconds {
				met = append(met, m)
			}
		}
	}
	return met
}

// A Rule says how many days a boat dries.
type Rule struct {
	ID     string
	Title  string
	Source string
}

// Rules are the sets that a club chooses from.
var Rules = []Rule{
	{"utah", "by season: 7, 18 or 30 days", "drying times published by the State of Utah (the text seen bears no date)"},
	{"thirty", "30 days after cleaning and draining", "the usual default before local temperature and humidity are looked up (100th Meridian estimator, after McMahon, Ussery and Clarke, USACE EL-93-1, 1993)"},
	{"days", "a number of days of the club's own", "the club's own rule; other agencies commonly say five dry days (in part from memory)"},
}

// ThirtyDays is the number of the rule "thirty".
const ThirtyDays = 30

// Source gives where a rule's days come from.
func Source(rule string) string {
	for _, r := range Rules {
		if r.ID == rule {
			return r.Source
		}
	}
	return ""
}
