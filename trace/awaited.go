package trace

import (
	"time"

	"lotbook/inventory"
)

// awaited returns the pieces that orders are still to bring.
func awaited(inventory.Reader) (map[inventory.ProductID]int64, error) { return nil, nil }

// measuredLeadTime is how long orders of a product took.
func measuredLeadTime(inventory.Reader, *ProposalLine, string, time.Time) (*MeasuredLeadTime, error) {
	return nil, nil
}
