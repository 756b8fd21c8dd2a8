package notice

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"

	"lotbook/inventory"
	"lotbook/inventory/journal"
)

// Replied records a reply together with the answer, so that what was answered
// can be made again whatever is recorded later.
type Replied struct {
	Notice ID `json:"notice"`
	Reply
	// Answer is the Answer as JSON, compressed (gzip, RFC 1952).
	Answer []byte `json:"answer"`
}

// Kind implements inventory.Event.
func (*Replied) Kind() string { return workReplied }

// Project implements inventory.Event. The row has no answer: it is read from
// the entry. What was sent is not struck out: a further reply puts it right.
func (v *Replied) Project(w inventory.Writer, e journal.Entry) error {
	body, err := json.Marshal(v.Reply)
	if err != nil {
		return err
	}
	e.Body = body
	return logWork(w, v.Notice, e)
}

// mostPacked is how large a packed answer may be, some five million uses: an
// entry's body, in which it grows by a third, has at most 64 MiB.
const mostPacked = 40 << 20

func pack(a *Answer) ([]byte, error) {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	if err := json.NewEncoder(z).Encode(a); err != nil {
		return nil, err
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	if b.Len() > mostPacked {
		return nil, inventory.Invalid("notice", "Write it down as several notices, a product each, and reply to each.", "the answer has %d treatments and is too large to be kept", len(a.Treatments))
	}
	return b.Bytes(), nil
}

func unpack(doc []byte) (*Answer, error) {
	z, err := gzip.NewReader(bytes.NewReader(doc))
	if err != nil {
		return nil, fmt.Errorf("an answer that was kept: %w", err)
	}
	plain, err := io.ReadAll(z)
	if err != nil {
		return nil, fmt.Errorf("an answer that was kept: %w", err)
	}
	a := new(Answer)
	return a, json.Unmarshal(plain, a)
}
