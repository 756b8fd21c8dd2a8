package api_test

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"os"
	"testing"

	"lotbook/inventory/account"
)

// pictures puts pictures into a multipart form.
func pictures(t *testing.T, pics ...[]byte) raw {
	t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for _, pic := range pics {
		p, err := w.CreateFormFile("picture", "pack.jpg")
		if err != nil {
			t.Fatal(err)
		}
		if _, err := p.Write(pic); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return raw{w.FormDataContentType(), b.Bytes()}
}

// Two pictures of one pack, each under glare, are read together, again too; alone
// neither is (the pictures are of cmd/lotbook/testdata/README.md).
func TestReadSeveralPictures(t *testing.T) {
	s := newSite(t)
	var glare [2][]byte
	for i, name := range [2]string{"glare-1.jpg", "glare-2.jpg"} {
		b, err := os.ReadFile("../cmd/lotbook/testdata/" + name)
		if err != nil {
			t.Fatal(err)
		}
		glare[i] = b
		if a := s.do(account.Stock, "POST", "/v1/read", pictures(t, b)).want(http.StatusOK); a.text(0, "error", "code") != "no_code" {
			t.Errorf("%s alone: %s", name, a.body)
		}
	}
	for range 2 {
		a := s.do(account.Stock, "POST", "/v1/read", pictures(t, glare[:]...)).want(http.StatusOK)
		if a.text(0, "gtin") != "09521234543213" || a.text(0, "lot") != "A7F42" || a.text(0, "serial") != "00417" {
			t.Errorf("both together: %s", a.body)
		}
	}
	s.do(account.Stock, "POST", "/v1/read", pictures(t, glare[0], []byte("no picture"))).problem(http.StatusUnprocessableEntity, "not_a_picture")
	s.do(account.Stock, "POST", "/v1/read", pictures(t)).problem(http.StatusBadRequest, "parameter_missing")
	s.do(account.Stock, "POST", "/v1/read", pictures(t, make([][]byte, 9)...)).problem(http.StatusBadRequest, "malformed")
	nine := bytes.Split(bytes.Repeat([]byte("x"), 9), nil)
	s.do(account.Stock, "POST", "/v1/read", pictures(t, nine...)).problem(http.StatusBadRequest, "repeated_parameter")
}
