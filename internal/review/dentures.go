package review

import (
	"context"
	"math"

	"afterfit/internal/stats"
)

// dentures is every delivered denture of a store in narrow columns of memory, patient by
// patient (those alike side by side), and within a patient in the order of their numbers.
// Comparisons ask hundreds of questions of the same dentures: read once, each question costs a
// few billionths of a second a denture, where a statement that groups them anew costs a hundred
// times that. A denture takes about 180 bytes, 0.3 GB for 1,000,000 cases.
type dentures struct {
	n        int
	patients []int32            // where each patient's dentures begin, and n
	numbers  []int32            // the patients' numbers in the linked tables
	no       []int32            // the dentures' numbers there: that of an upper denture is odd, one more than that of the lower of its case
	rows     []int32            // by the denture's number in the linked tables: its place here, -1 for none
	codes    map[string]*codes  // by column
	habits   map[string][]uint8 // by column, as sideOf reads them: places in habitSides, and the next where the habit cannot be assessed
	values   map[string][]int32 // by column, in hundredths of a mm; noValue: not recorded
	filled   []uint8            // how many of the five key fields of the records are filled
	onFive   []uint8            // 1 where the vertical of occlusion is a multiple of 5 mm, 0 where not, 2 where not recorded
	left     []uint16           // twice the last day of follow-up, no later than the day after the longest window, and 1 more if it is a death
	outcomes []denturesOutcome
	events   dentureEvents
	firsts   [][]uint16 // by yes/no outcome as firstKind counts them: the day, noDay if it did not happen
}

const (
	noValue = math.MaxInt32
	noDay   = math.MaxUint16
)

// row is the place of the denture with this number in the linked tables, -1 if it is none
// of these.
func (d *dentures) row(no int64) int32 {
	if no < int64(len(d.rows)) {
		return d.rows[no]
	}
	return -1
}

// upper reports whether denture i is one of the upper arch.
func (d *dentures) upper(i int) bool { return d.no[i]%2 == 1 }

// arches are the arches as codes.
func (d *dentures) arches() *codes {
	of, upper, lower := make([]uint32, d.n), uint32(archCodes.No("upper")), uint32(archCodes.No("lower"))
	for i := range of {
		if of[i] = lower; d.upper(i) {
			of[i] = upper
		}
	}
	return newCodes(of, archCodes.List())
}

// denturesOutcome is what became of the dentures in the window of one outcome.
type denturesOutcome struct {
	outcomeColumn
	days  []uint16     // the last day at risk, from delivery: an outcome that counts once ends the time at risk, one that recurs does not
	y     smallNumbers // events
	share []int64      // by day: what share of the events expected by the end of the window has fallen due, in billionths
}

// events are those of denture i.
func (o *denturesOutcome) events(i int) int64 { return int64(o.y.at(i)) }

// shareOf is the share of denture i; 0 where follow-up reached no day on which anything
// was expected, so that the denture has no part in the outcome.
func (o *denturesOutcome) shareOf(i int) int64 { return o.share[o.days[i]] }

// outcome finds an outcome by its name.
func (d *dentures) outcome(name string) *denturesOutcome {
	for i := range d.outcomes {
		if d.outcomes[i].Name.String() == name {
			return &d.outcomes[i]
		}
	}
	panic("review: no outcome " + name)
}

// dentureEvents are the events of every denture that can happen several times: adjustment
// visits with their chair time, and sore spots.
type dentureEvents struct{ visits, spots eventList }

// eventList holds events denture by denture: those of denture i are all[start[i]:start[i+1]].
type eventList struct {
	start []int32
	all   []countedEvent
}

// of are the events of denture i.
func (l *eventList) of(i int) []countedEvent { return l.all[l.start[i]:l.start[i+1]] }

// countedEvent is an event on a day from delivery, as the statements that read them give it.
type countedEvent uint32

func (e countedEvent) day() int { return int(e >> 20) }

// minutes of chair time that were noted of a visit, 0 where none were.
func (e countedEvent) minutes() int64 { return int64(e & (1<<12 - 1)) }

// n is how much the event brings where it counts by a kind.
func (e countedEvent) n(kind int) int64 {
	if kind == minutesEvent {
		return e.minutes()
	}
	return 1
}

// place is that of a sore spot, at its number in zonePlaces.
func (e countedEvent) place() int { return int(e >> 12 & 255) }

// What is counted of events: of a visit itself and its minutes, and spots.
const (
	visitEvent = iota
	minutesEvent
	spotEvent
	eventKinds
)

// counting are the events of an outcome that recurs, and the kind by which they count.
func (e *dentureEvents) counting(outcome string) (list *eventList, kind int) {
	switch outcome {
	case Adjustments:
		return &e.visits, visitEvent
	case Minutes:
		return &e.visits, minutesEvent
	}
	return &e.spots, spotEvent
}

// dentures reads the dentures, once for all questions.
func (q *asker) dentures(ctx context.Context) (*dentures, error) {
	if q.all != nil {
		return q.all, nil
	}
	d, err := q.readDentures(ctx, allColumns)
	if err != nil {
		return nil, err
	}
	if err := d.fallDue(ctx, q); err != nil {
		return nil, err
	}
	q.all = d
	return q.all, nil
}

// readDentures reads some of the columns.
func (q *asker) readDentures(ctx context.Context, of denturesColumns) (*dentures, error) {
	r := newDentureReader(q, of)
	return r.d, r.read(ctx)
}

// fallDue counts the events of every outcome within its window, and finds by day what
// share of them had fallen due, as outcomeSheet says.
func (d *dentures) fallDue(ctx context.Context, q *asker) error {
	columns := q.outcomeColumns()
	d.outcomes = make([]denturesOutcome, len(columns))
	return onAllCores(ctx, len(columns), func(k int) (err error) {
		c := columns[k]
		o := denturesOutcome{outcomeColumn: c, days: make([]uint16, d.n)}
		for i, left := range d.left {
			o.days[i] = min(left/2, uint16(c.Days))
		}
		ends, events := make([]int64, c.Days+1), make([]int64, c.Days+1)
		if c.Once {
			d.once(&o, events)
		} else {
			d.often(&o, events)
		}
		for _, day := range o.days {
			ends[day]++
		}
		var left, happened []stats.DayCount
		for day := range ends {
			if ends[day] > 0 || events[day] > 0 {
				left, happened = append(left, stats.DayCount{Day: day, N: ends[day]}), append(happened, stats.DayCount{Day: day, N: events[day]})
			}
		}
		o.share, err = dueShares(left, happened, c.Days)
		d.outcomes[k] = o
		return err
	})
}

// often counts an outcome that recurs.
func (d *dentures) often(o *denturesOutcome, events []int64) {
	list, kind := d.events.counting(o.Name.String())
	y := make([]uint32, d.n)
	for i := range y {
		for _, e := range list.of(i) {
			if e.day() <= o.Days {
				y[i] += uint32(e.n(kind))
				events[e.day()] += e.n(kind)
			}
		}
	}
	o.y = newSmallNumbers(y)
}

// once counts an outcome that counts once.
func (d *dentures) once(o *denturesOutcome, events []int64) {
	y, last := make([]uint8, d.n), uint16(o.Days)
	for i, day := range d.firsts[firstKind(o.Name.String())] {
		if day <= last { // noDay is later than any window
			y[i], o.days[i] = 1, day
			events[day]++
		}
	}
	o.y = smallNumbers{narrow: y}
}
