package treasury

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"refloat.example/pkg/desk"
	"refloat.example/pkg/message"
)

// maxNamed bounds how many missing or repeated numbers of a series are named.
const maxNamed = 100

// series counts what the book says of papers' numbers. It reads events and nothing that
// was made from them, so that it finds what the numbering itself would hide.
type series struct {
	names map[string]*counted
	of    map[string]string // a paper to its series
}

// counted is one series while it is read.
type counted struct {
	message.SeriesCount
	seen map[int]int // a number to how many papers bear it
}

func newSeries() *series { return &series{map[string]*counted{}, map[string]string{}} }

// add counts an event.
func (s *series) add(stream string, body message.Body) {
	switch b := body.(type) {
	case message.PaperIssued:
		own := strings.TrimPrefix(stream, message.TreasurySeries(""))
		c := s.series(own)
		s.of[b.Paper] = own
		c.Count++
		if b.Replaces != "" {
			c.Replacing++
		}
		name, number, numbered := cutSerial(b.Serial)
		if !numbered || name != own {
			c.Odd = append(c.Odd, b.Serial)
			return
		}
		c.seen[number]++
	case message.PaperCancelled:
		c := s.series(cmp.Or(s.of[b.Paper], seriesOf(b.Serial)))
		c.Cancelled++
	}
}

func (s *series) series(name string) *counted {
	if s.names[name] == nil {
		country, year, _ := strings.Cut(name, "-")
		n, _ := strconv.Atoi(year)
		s.names[name] = &counted{message.SeriesCount{Series: name, Country: country, Year: n, Gaps: []string{}, Doubles: []string{}, Odd: []string{}}, map[int]int{}}
	}
	return s.names[name]
}

// cutSerial parts "CA-2026-0001" into its series and its number.
func cutSerial(serial string) (name string, number int, ok bool) {
	i := strings.LastIndex(serial, "-")
	if i < 0 {
		return serial, 0, false
	}
	number, err := strconv.Atoi(serial[i+1:])
	return serial[:i], number, err == nil && number > 0
}

func seriesOf(serial string) string {
	name, _, _ := cutSerial(serial)
	return name
}

// counts gives every series in order of its name, with what is missing between 1 and its
// last number, and what stands more than once.
func (s *series) counts() []message.SeriesCount {
	list := []message.SeriesCount{}
	for _, c := range s.names {
		numbers := make([]int, 0, len(c.seen))
		for n, papers := range c.seen {
			numbers = append(numbers, n)
			if papers > 1 {
				c.Doubles = append(c.Doubles, fmt.Sprintf("%s-%04d", c.Series, n))
			}
		}
		slices.Sort(numbers)
		slices.Sort(c.Doubles)
		last := 0
		for _, n := range numbers {
			if n > last+1 {
				c.Gaps = append(c.Gaps, gap(c.Series, last+1, n-1))
			}
			last = n
		}
		if len(numbers) > 0 {
			c.First, c.Last = fmt.Sprintf("%s-%04d", c.Series, numbers[0]), fmt.Sprintf("%s-%04d", c.Series, last)
		}
		for _, named := range []*[]string{&c.Gaps, &c.Doubles, &c.Odd} {
			*named = (*named)[:min(len(*named), maxNamed)]
		}
		list = append(list, c.SeriesCount)
	}
	slices.SortFunc(list, func(a, b message.SeriesCount) int { return cmp.Compare(a.Series, b.Series) })
	return list
}

// gap names a stretch of numbers that no paper bears.
func gap(name string, from, to int) string {
	if from == to {
		return fmt.Sprintf("%s-%04d", name, from)
	}
	return fmt.Sprintf("%s-%04d to %04d", name, from, to)
}

// paperSeries reads the whole book again, and lists the series of papers' numbers.
func (s *service) paperSeries(ctx context.Context, _ desk.Caller, _ message.PaperSeries) (message.SeriesReport, error) {
	all := newSeries()
	issuer, err := s.Setting(ctx, "legal-name")
	if err != nil {
		return message.SeriesReport{}, err
	}
	err = s.Log.EachOf(ctx, []message.Kind{message.PaperIssued{}.Kind(), message.PaperCancelled{}.Kind()}, func(e message.Event) error {
		body, err := message.Decode(e)
		if err == nil {
			all.add(e.Stream, body)
		}
		return err
	})
	return message.SeriesReport{Issuer: issuer, Series: all.counts()}, err
}
