package trace

import (
	"time"

	"lotbook/inventory"
	"lotbook/inventory/rowcode"
)

// An OnRecord says how completely treatments were recorded that had to have a kind of
// product on record by lot: closed ones that took place, by when they started.
// Each counts once.
type OnRecord struct {
	// Scanned, Photo, Typed and Assumed have all pieces on record; one that is
	// known in several ways counts under the weakest.
	Scanned int64 `json:"scanned"`
	Photo   int64 `json:"photo"`
	Typed   int64 `json:"typed"`
	Assumed int64 `json:"assumed"`
	// DoneWithout are those of which the record says that they did without.
	DoneWithout int64 `json:"done_without"`
	// Without lack a record, of all pieces or of some.
	Without int64 `json:"without_record"`
}

// Treatments is how many there are.
func (k *OnRecord) Treatments() int64 { return k.Recorded() + k.DoneWithout + k.Without }

// Recorded is how many have all pieces on record by lot.
func (k *OnRecord) Recorded() int64 { return k.Scanned + k.Photo + k.Typed + k.Assumed }

func (k *OnRecord) add(o *OnRecord, sign int64) {
	k.Scanned += sign * o.Scanned
	k.Photo += sign * o.Photo
	k.Typed += sign * o.Typed
	k.Assumed += sign * o.Assumed
	k.DoneWithout += sign * o.DoneWithout
	k.Without += sign * o.Without
}

// A RecordWeek is an OnRecord of a week, Monday to Sunday, UTC.
type RecordWeek struct {
	Week time.Time `json:"week"` // when it began
	OnRecord
}

// monday returns when the week of an instant began, UTC.
func monday(t time.Time) time.Time {
	day := t.UTC().Truncate(24 * time.Hour)
	return day.AddDate(0, 0, -(int(day.Weekday())+6)%7)
}

func keptKey(c inventory.Category, week time.Time) []byte {
	return rowcode.AppendTime(rowcode.AppendText(nil, string(c)), week)
}

func (k *OnRecord) row() []byte {
	v := rowcode.NewEnc(1, 16)
	for _, n := range []int64{k.Scanned, k.Photo, k.Typed, k.Assumed, k.DoneWithout, k.Without} {
		v.Int(n)
	}
	return v.Bytes()
}

func decodeKept(row []byte) (OnRecord, error) {
	d := rowcode.NewDec(1, row)
	k := OnRecord{Scanned: d.Int(), Photo: d.Int(), Typed: d.Int(), Assumed: d.Int(), DoneWithout: d.Int(), Without: d.Int()}
	return k, d.Err()
}

// kept returns what a treatment counts as, by category; nothing unless it is
// closed and took place.
func (t *Treatment) kept() map[inventory.Category]OnRecord {
	list := map[inventory.Category]OnRecord{}
	if !t.Closed || t.Struck != 0 || t.NotDone {
		return list
	}
	lacks := t.gaps()
	for _, q := range t.Required {
		if _, missing := lacks[q.Category]; missing {
			list[q.Category] = OnRecord{Without: 1}
		} else {
			list[q.Category] = t.keptBy(q.Category)
		}
	}
	return list
}

// keptBy says in which way a category is known that a treatment does not lack.
func (t *Treatment) keptBy(c inventory.Category) OnRecord {
	weakest := -1
	ways := []OnRecord{{Scanned: 1}, {Photo: 1}, {Typed: 1}, {Assumed: 1}}
	for i := range t.Uses {
		u := &t.Uses[i]
		if u.Struck != 0 || u.Lot == "" || u.Counts(c) == 0 {
			continue
		}
		switch u.How {
		case Scanned:
			weakest = max(weakest, 0)
		case Photo:
			weakest = max(weakest, 1)
		case Typed:
			weakest = max(weakest, 2)
		default:
			weakest = max(weakest, 3)
		}
	}
	if weakest < 0 {
		return OnRecord{DoneWithout: 1}
	}
	return ways[weakest]
}

// saveKept puts the weeks' rows right for what the treatment counts as now,
// where its own row still says what it counted as before.
func (t *Treatment) saveKept(w inventory.Writer) error {
	old, err := TreatmentByID(w, t.ID)
	if err != nil {
		return err
	}
	change := t.kept()
	for c, k := range old.kept() {
		now := change[c]
		now.add(&k, -1)
		change[c] = now
	}
	for c, k := range change {
		if k == (OnRecord{}) {
			continue
		}
		key := keptKey(c, monday(t.Start))
		row, err := w.Get(ixKept, key)
		if err != nil {
			return err
		}
		var week OnRecord
		if row != nil {
			if week, err = decodeKept(row); err != nil {
				return err
			}
		}
		week.add(&k, 1)
		if err := w.Put(ixKept, key, week.row()); err != nil {
			return err
		}
	}
	return nil
}

// RecordWeeks returns how completely a category was recorded in the weeks that
// have a part of [from, to], those in which nothing was closed left out.
func RecordWeeks(r inventory.Reader, c inventory.Category, from, to time.Time) (list []RecordWeek, err error) {
	prefix := rowcode.AppendText(nil, string(c))
	err = r.Scan(ixKept, prefix, keptKey(c, monday(from)), func(key, row []byte) error {
		k := rowcode.ReadKey(key)
		k.Text()
		week := RecordWeek{Week: k.Time()}
		if err := k.Err(); err != nil {
			return err
		}
		if week.Week.After(to) {
			return inventory.ErrStop
		}
		if week.OnRecord, err = decodeKept(row); err != nil || week.Treatments() == 0 {
			return err
		}
		list = append(list, week)
		return nil
	})
	return list, err
}

// A Completeness says how completely a kind of product was recorded in the time
// when a lot may have been in the unit: how far an answer rests on records.
type Completeness struct {
	Category inventory.Category `json:"category"`
	// Kept tells that the unit keeps the kind by lot; otherwise nobody was
	// asked for records, and there are no Weeks.
	Kept  bool         `json:"kept_by_lot"`
	Weeks []RecordWeek `json:"weeks"`
	// Total is that of all weeks, also of those before the 520 last ones,
	// which Weeks leave out.
	Total OnRecord `json:"total"`
	// Fed are those of Total.Without of which nothing had to be recorded,
	// since their stations were fed from a tank all of the time.
	Fed int `json:"fed_from_tanks"`
}

// completeness fills in how completely the kinds of an answer were recorded.
func (a *LotAnswer) completeness(r inventory.Reader, u *inventory.Unit) error {
	if a.First.IsZero() {
		return nil
	}
	last := a.Last
	if last.IsZero() {
		last = rowcode.MaxTime
	}
	seen := map[inventory.Category]bool{}
	for _, c := range a.carriers {
		for _, kind := range c.kinds {
			if need, ok := u.Rules.Need(kind); !ok || seen[kind] {
				continue
			} else if seen[kind] = true; !need.Scan {
				a.Completeness = append(a.Completeness, Completeness{Category: kind, Weeks: []RecordWeek{}})
				continue
			}
			x := Completeness{Category: kind, Kept: true, Weeks: []RecordWeek{}}
			weeks, err := RecordWeeks(r, kind, a.First, last)
			if err != nil {
				return err
			}
			for i := range weeks {
				x.Total.add(&weeks[i].OnRecord, 1)
			}
			x.Weeks = append(x.Weeks, weeks[max(0, len(weeks)-mostWeeks):]...)
			for id, o := range a.outcomes {
				if o.gap.Category == kind && (o.code == LeftOutFed || a.sure[id]) {
					x.Fed++
				}
			}
			a.Completeness = append(a.Completeness, x)
		}
	}
	return nil
}
