package account

import (
	"fmt"
	"slices"
)

// A Role is what a user does in the unit, and with it what they may see and
// write. Each user has one.
type Role string

// The roles. The words are in the journal and in the API, and never change.
const (
	// Nurse sets up treatments and scans packs into them.
	Nurse Role = "nurse"
	// Stock receives, moves, counts and reconciles.
	Stock Role = "stock"
	// Quality holds lots, answers notices and names the patients.
	Quality Role = "quality"
	// Administrator keeps users and settings, and sees no patients.
	Administrator Role = "administrator"
)

// Roles returns all roles, in the order in which a page lists them.
func Roles() []Role { return []Role{Nurse, Stock, Quality, Administrator} }

// Valid reports whether r is one of Roles.
func (r Role) Valid() bool { return slices.Contains(Roles(), r) }

// ParseRole returns the role of that name, or a Refusal.
func ParseRole(s string) (Role, error) {
	if r := Role(s); r.Valid() {
		return r, nil
	}
	return "", invalid("role", "unknown_role", fmt.Sprintf("%q is not a role", s), "use nurse, stock, quality or administrator")
}
