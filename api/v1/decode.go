package v1

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/url"
	"reflect"
	"strings"

	"github.com/gin-gonic/gin"

	"lotbook/api/problem"
)

const jsonType = "application/json"

// mediaType returns the type of the request's body, without parameters.
func mediaType(c *gin.Context) (string, map[string]string) {
	t, params, err := mime.ParseMediaType(c.GetHeader("Content-Type"))
	if err != nil {
		return "", nil
	}
	return t, params
}

func wrongType(want string) error {
	return &problem.Request{
		Status: http.StatusUnsupportedMediaType, Code: "media_type", Field: "Content-Type",
		Message: "The request's Content-Type is not one that is taken here.", Hint: "Send " + want + ".",
	}
}

// decode reads the request's body, one JSON value, into v.
func decode(c *gin.Context, v any) error {
	if t, params := mediaType(c); t != jsonType || (params["charset"] != "" && !strings.EqualFold(params["charset"], "utf-8")) {
		return wrongType(jsonType)
	}
	return decodeFrom(c.Request.Body, v)
}

// decodeFrom reads one JSON value, and no member that v doesn't know.
func decodeFrom(r io.Reader, v any) error {
	body, err := io.ReadAll(r)
	if err != nil {
		return sendingError(err)
	}
	if err := characters(body); err != nil {
		return err
	}
	t := reflect.TypeOf(v)
	dec := json.NewDecoder(bytes.NewReader(body))
	if err := strict(dec, t, "", 0); err != nil {
		return jsonError(err, t, body)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return problem.Bad("malformed", "", "Send one JSON value.", "There is something behind the JSON value.")
	}
	if err := json.Unmarshal(body, v); err != nil {
		return jsonError(err, t, body)
	}
	return nil
}

// jsonError says in words what is wrong with a body that should be a t.
func jsonError(err error, t reflect.Type, body []byte) error {
	var (
		syntax *json.SyntaxError
		typ    *json.UnmarshalTypeError
		bad    *problem.Request
	)
	switch {
	case errors.As(err, &bad):
		return bad
	case errors.Is(err, io.EOF) && len(bytes.TrimSpace(body)) == 0:
		return problem.Bad("malformed", "", "Send a JSON object.", "The request has no body.")
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return problem.Bad("malformed", "", "Send the whole JSON value.", "The JSON ends too early, after %d bytes.", len(body))
	case errors.As(err, &syntax):
		return problem.Bad("malformed", "", "Check the JSON with any JSON tool.", "The body is not JSON, at byte %d: %v.", syntax.Offset, syntax)
	case errors.As(err, &typ):
		field := memberPath(t, typ.Field)
		return problem.Bad("wrong_type", field, "Look at the API's description for the member's type.", "%s is a JSON %s, which it can't be.", member(field), typ.Value)
	}
	return problem.Bad("malformed", "", "Times are like 2026-11-24T06:30:00Z.", "The body can't be read: %v.", err)
}

// memberPath takes the names of embedded structs, which no client knows, out of
// the path that encoding/json gives.
func memberPath(t reflect.Type, path string) string {
	var out []string
	for name := range strings.SplitSeq(path, ".") {
		for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice {
			t = t.Elem()
		}
		if t.Kind() != reflect.Struct {
			out = append(out, name)
			continue
		}
		embedded := false
		for i := range t.NumField() {
			f := t.Field(i)
			tag, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			if (f.Anonymous && f.Name == name) || (!f.Anonymous && tag == name) {
				t, embedded = f.Type, f.Anonymous
				break
			}
		}
		if !embedded {
			out = append(out, name)
		}
	}
	return strings.Join(out, ".")
}

func member(field string) string {
	if field == "" {
		return "The body"
	}
	return "The member " + field
}

// query checks that a request has no query parameters but these, each once,
// and returns them.
func query(c *gin.Context, names ...string) (url.Values, error) {
	q, err := url.ParseQuery(c.Request.URL.RawQuery)
	if err != nil {
		return nil, problem.Bad("malformed", "", "Escape what is not plain in a query.", "The query can't be read.")
	}
	for name, vs := range q {
		known := false
		for _, n := range names {
			known = known || n == name
		}
		if !known {
			return nil, problem.Bad("unknown_parameter", name, "Leave it out, or compare its spelling with the API's description.", "There is no parameter %q here.", name)
		}
		if len(vs) > 1 {
			return nil, problem.Bad("repeated_parameter", name, "Give it once.", "The parameter %q is given %d times.", name, len(vs))
		}
	}
	return q, nil
}

// param returns a part of the path.
func param(c *gin.Context, name string) (string, error) {
	s, err := url.PathUnescape(c.Param(name))
	if err != nil {
		return "", problem.Bad("malformed", name, "Escape what is not plain in an address.", "The address can't be read.")
	}
	return s, nil
}

// respond sends v as JSON. The body is made before anything is sent.
func respond(c *gin.Context, status int, v any) error {
	body, err := encode(v)
	if err != nil {
		return fmt.Errorf("encode the answer: %w", err)
	}
	c.Data(status, jsonType, body)
	return nil
}

func encode(v any) ([]byte, error) {
	var b strings.Builder
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	err := enc.Encode(v)
	return []byte(b.String()), err
}
