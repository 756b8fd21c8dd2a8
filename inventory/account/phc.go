package account

import (
	"encoding/base64"
	"fmt"
	"strings"
)

// Params are the costs of an argon2id hash (RFC 9106).
type Params struct {
	// Memory in KiB.
	Memory uint32
	// Passes over the memory.
	Passes uint32
	// Lanes that may be computed side by side.
	Lanes uint8
}

// DefaultParams returns 19 MiB, 2 passes, 1 lane: the minimum that the OWASP
// Password Storage Cheat Sheet recommends for argon2id. RFC 9106, section 4,
// recommends more memory than a small machine of a unit can spare for several
// people who sign in at the start of a shift.
func DefaultParams() Params { return Params{Memory: 19 * 1024, Passes: 2, Lanes: 1} }

const (
	// saltLen and tagLen are those of RFC 9106, section 4, in bytes.
	saltLen = 16
	tagLen  = 32
	// The most that a stored hash may ask for, so that a damaged Vault
	// can't make this program take all memory.
	maxMemory = 1 << 18 // KiB
	maxPasses = 64
)

// A phc is a password hash in the PHC string format
// (github.com/P-H-C/phc-string-format):
//
//	$argon2id$v=19$m=19456,t=2,p=1$<salt>$<tag>
//
// with salt and tag in base64 without padding.
type phc struct {
	Params
	salt, tag []byte
}

// version is argon2's 1.3, the one of RFC 9106.
const version = 19

func (h phc) String() string {
	b64 := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", version,
		h.Memory, h.Passes, h.Lanes, b64.EncodeToString(h.salt), b64.EncodeToString(h.tag))
}

// parsePHC reads what String wrote, and nothing else. The error is ErrHash.
func parsePHC(s string) (phc, error) {
	var h phc
	bad := func(why string) (phc, error) { return phc{}, fmt.Errorf("%w: %s", ErrHash, why) }
	parts := strings.Split(s, "$")
	if len(parts) != 6 || parts[0] != "" || parts[1] != "argon2id" {
		return bad("not of the form $argon2id$v$costs$salt$tag")
	}
	var v int
	if _, err := fmt.Sscanf(parts[2], "v=%d", &v); err != nil || v != version {
		return bad("not version 19")
	}
	if _, err := fmt.Sscanf(parts[3], "m=%d,t=%d,p=%d", &h.Memory, &h.Passes, &h.Lanes); err != nil {
		return bad("its costs can't be read")
	}
	b64 := base64.RawStdEncoding.Strict()
	var err error
	if h.salt, err = b64.DecodeString(parts[4]); err != nil || len(h.salt) < 8 {
		return bad("its salt can't be read")
	}
	// RFC 9106, section 3.1: a tag has at least 4 bytes, memory is at least
	// 8 KiB a lane. Less than 16 bytes of tag are no protection.
	if h.tag, err = b64.DecodeString(parts[5]); err != nil || len(h.tag) < 16 || len(h.tag) > 64 {
		return bad("its tag can't be read")
	}
	if h.Lanes < 1 || h.Passes < 1 || h.Passes > maxPasses || h.Memory < 8*uint32(h.Lanes) || h.Memory > maxMemory {
		return bad("its costs are out of range")
	}
	if h.String() != s {
		return bad("not written as this program writes it")
	}
	return h, nil
}
