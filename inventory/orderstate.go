package inventory

import (
	"encoding/json"
	"time"

	"lotbook/inventory/rowcode"
)

// An OrderStatus says how far an order is. It is never recorded: it follows
// from what was ordered and what came.
type OrderStatus string

// The states of an order.
const (
	OrderOpen      OrderStatus = "open"          // nothing has come
	OrderPart      OrderStatus = "part_received" // something has come, and something is awaited
	OrderComplete  OrderStatus = "complete"      // nothing more is awaited
	OrderOver      OrderStatus = "over"          // nothing more is awaited, and more came than was ordered
	OrderWithdrawn OrderStatus = "cancelled"
)

// An OrderState is an order and what became of it.
type OrderState struct {
	Order  Order
	Status OrderStatus
	// Placed is when it was placed, Changed when the version in force came
	// about; Entry wrote that version.
	Placed, Changed time.Time
	Entry           uint64
	// Reason is why it was cancelled, and Cancelled when.
	Reason    string
	Cancelled time.Time
	// Progress has a line for each of the order's, in its order.
	Progress []OrderProgress
	// Other is what came with the order's number and is not on it, in pieces.
	Other []OrderLine
	// FirstCame is when the first pieces came, zero if none did.
	FirstCame time.Time
}

// An OrderProgress is what became of a line of an order, in pieces.
type OrderProgress struct {
	OrderLine
	// Came was taken in, Refused went back at once, Closed will not come.
	Came    int64 `json:"came"`
	Refused int64 `json:"refused"`
	Closed  int64 `json:"closed"`
	// Open is still to come, Over is what came beyond the order.
	Open int64 `json:"open"`
	Over int64 `json:"over"`
}

// Late reports whether pieces are awaited past the day on which they should
// have come.
func (o *OrderState) Late(today Date) bool {
	return (o.Status == OrderOpen || o.Status == OrderPart) && o.Order.Expected != "" && o.Order.Expected < today
}

// OrderByID returns an order and what became of it, nil if there is none of
// that number.
func OrderByID(r Reader, id OrderID) (*OrderState, error) {
	var s *OrderState
	var cancelled bool
	var reason string
	var rows []orderRow
	var err error
	err = scanOrder(r, id, func(row *orderRow) error {
		if row.Struck != 0 {
			return nil
		}
		switch row.What {
		case orderVersion:
			placed := row.at
			if s != nil {
				placed = s.Placed
			}
			s = &OrderState{Placed: placed, Changed: row.at, Entry: row.entry}
			cancelled = false
			if err := json.Unmarshal(row.Doc, &s.Order); err != nil {
				return err
			}
			return s.Order.catalogue(r)
		case orderCancelled:
			cancelled, reason = true, row.Note
			if s != nil {
				s.Cancelled = row.at
			}
		default:
			if row.Lot.Product, err = Catalogued(r, row.Lot.Product); err != nil {
				return err
			}
			rows = append(rows, *row)
		}
		return nil
	})
	if err != nil || s == nil {
		return nil, err
	}
	s.add(rows)
	if s.Status = s.status(); cancelled {
		s.Status, s.Reason = OrderWithdrawn, reason
	}
	return s, nil
}

// catalogue puts the lines under the ids that their products have in the
// catalogue by now. Two lines of one product are one.
func (o *Order) catalogue(r Reader) error {
	var lines []OrderLine
	at := map[ProductID]int{}
	for _, l := range o.Lines {
		var err error
		if l.Product, err = Catalogued(r, l.Product); err != nil {
			return err
		}
		if i, ok := at[l.Product]; ok {
			one := &lines[i]
			*one = OrderLine{Product: l.Product, Quantity: one.Quantity + l.Quantity}
			continue
		}
		at[l.Product] = len(lines)
		lines = append(lines, l)
	}
	o.Lines = lines
	return nil
}

func (o *OrderState) add(rows []orderRow) {
	at := map[ProductID]int{}
	for i, l := range o.Order.Lines {
		o.Progress = append(o.Progress, OrderProgress{OrderLine: l})
		at[l.Product] = i
	}
	other := map[ProductID]int{}
	for _, row := range rows {
		if row.What == orderCame && o.FirstCame.IsZero() {
			o.FirstCame = row.at
		}
		i, ok := at[row.Lot.Product]
		if !ok {
			if row.What != orderCame {
				continue
			}
			if i, ok = other[row.Lot.Product]; !ok {
				i = len(o.Other)
				other[row.Lot.Product] = i
				o.Other = append(o.Other, OrderLine{Product: row.Lot.Product})
			}
			o.Other[i].Quantity += row.Pieces
			continue
		}
		p := &o.Progress[i]
		switch row.What {
		case orderCame:
			p.Came += row.Pieces
		case orderRefused:
			p.Refused += row.Pieces
		case orderClosed:
			p.Closed += row.Pieces
		}
	}
	for i := range o.Progress {
		p := &o.Progress[i]
		p.Open = max(0, p.Quantity-p.Came-p.Closed)
		p.Over = max(0, p.Came-p.Quantity)
	}
}

func (o *OrderState) status() OrderStatus {
	var came, open, over int64
	for _, p := range o.Progress {
		came, open, over = came+p.Came, open+p.Open, over+p.Over
	}
	switch {
	case open > 0 && came == 0:
		return OrderOpen
	case open > 0:
		return OrderPart
	case over > 0:
		return OrderOver
	}
	return OrderComplete
}

// of returns the progress of a product, nil if it is not on the order.
func (o *OrderState) of(p ProductID) *OrderProgress {
	for i := range o.Progress {
		if o.Progress[i].Product == p {
			return &o.Progress[i]
		}
	}
	return nil
}

// An OrderHead is an order as the list of orders shows it.
type OrderHead struct {
	ID       OrderID
	Supplier string
	Status   OrderStatus
	Placed   time.Time
	Expected Date
}

// listOrder makes an order's line in the list of orders anew.
func listOrder(w Writer, id OrderID) error {
	s, err := OrderByID(w, id)
	if err != nil {
		return err
	}
	if s == nil {
		return w.Delete(ixOrder, orderKey(id))
	}
	v := rowcode.NewEnc(1, 64)
	v.Text(s.Order.Supplier)
	v.Text(string(s.Status))
	v.Time(s.Placed)
	v.Text(string(s.Order.Expected))
	return w.Put(ixOrder, orderKey(id), v.Bytes())
}

// ScanOrders calls fn for the orders by number, from one on ("": from the
// first).
func ScanOrders(r Reader, from OrderID, fn func(*OrderHead) error) error {
	var start []byte
	if from != "" {
		start = orderKey(from)
	}
	return r.Scan(ixOrder, nil, start, func(key, row []byte) error {
		k := rowcode.ReadKey(key)
		h := OrderHead{ID: OrderID(k.Text())}
		if err := k.Err(); err != nil {
			return err
		}
		d := rowcode.NewDec(1, row)
		h.Supplier = d.Text()
		h.Status = OrderStatus(d.Text())
		h.Placed = d.Time()
		h.Expected = Date(d.Text())
		if err := d.Err(); err != nil {
			return err
		}
		return fn(&h)
	})
}

// OnOrder returns the orders of which pieces are awaited, by number.
func OnOrder(r Reader) ([]*OrderState, error) {
	var list []*OrderState
	err := ScanOrders(r, "", func(h *OrderHead) error {
		if h.Status != OrderOpen && h.Status != OrderPart {
			return nil
		}
		s, err := OrderByID(r, h.ID)
		list = append(list, s)
		return err
	})
	return list, err
}
