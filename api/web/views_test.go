package web

import "testing"

// Every template fits the struct of its page (github.com/jba/templatecheck).
func TestTemplatesFit(t *testing.T) {
	if _, err := loadViews(); err != nil {
		t.Fatal(err)
	}
}
