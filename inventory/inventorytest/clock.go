package inventorytest

import (
	"sync"
	"time"
)

// A Clock goes one second further each time it is asked, and otherwise only
// when it is told to. It is safe for use by many goroutines.
type Clock struct {
	mu  sync.Mutex
	now time.Time
}

// NewClock returns a Clock that stands at start.
func NewClock(start time.Time) *Clock { return &Clock{now: start} }

// Now returns the time and moves on by a second.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	t := c.now
	c.now = c.now.Add(time.Second)
	return t
}

// Set moves the clock, back too.
func (c *Clock) Set(t time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = t
}

// Start is where the clocks of the suite begin.
func Start() time.Time { return time.Date(2027, 3, 31, 6, 0, 0, 123456789, time.UTC) }
