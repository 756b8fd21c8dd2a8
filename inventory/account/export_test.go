package account

// Derive is the signature of argon2.IDKey.
type Derive = func(password, salt []byte, passes, memory uint32, lanes uint8, tagLen uint32) []byte

// WrapDerive puts wrap around the function that derives tags.
func (h *Hasher) WrapDerive(wrap func(Derive) Derive) { h.derive = wrap(h.derive) }

// Hasher returns the hasher of a.
func (a *Accounts) Hasher() *Hasher { return a.hasher }
