package record

import (
	"context"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// Import reads a document that Export wrote into an empty record: all of it is durable when it returns, or nothing has
// changed. ErrNotEmpty when the record has anything in it, ErrNewer when the document is of a newer version, ErrNotExport
// when it is not whole or was changed, with the table and the row.
func (r *Record) Import(ctx context.Context, from io.Reader) error {
	d := json.NewDecoder(from)
	d.UseNumber()
	return r.load(ctx, &jsonSource{d: d})
}

// jsonSource reads a document token by token; its parts must come in the order in which Export writes them.
type jsonSource struct {
	d *json.Decoder
}

// expect reads tokens that must be there.
func (s *jsonSource) expect(want ...json.Token) error {
	for _, w := range want {
		got, err := s.d.Token()
		if err != nil {
			return short(err)
		}
		if got != w {
			return fmt.Errorf("at byte %d: %s instead of %s", s.d.InputOffset(), shown(got), shown(w))
		}
	}
	return nil
}

// short words the end of a document that is cut off.
func short(err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return errors.New("it ends too early")
	}
	return err
}

func (s *jsonSource) layout() (int, error) {
	if err := s.expect(json.Delim('{'), "what", exportName, "layout"); err != nil {
		return 0, err
	}
	var n int
	if err := s.d.Decode(&n); err != nil {
		return 0, short(err)
	}
	if n < 1 {
		return 0, fmt.Errorf("its layout reads %d", n)
	}
	return n, s.expect("tables", json.Delim('['))
}

func (s *jsonSource) table() (name string, columns []string, err error) {
	if !s.d.More() {
		if err := s.expect(json.Delim(']'), json.Delim('}')); err != nil {
			return "", nil, err
		}
		if _, err := s.d.Token(); err != io.EOF {
			return "", nil, errors.New("it goes on after its end")
		}
		return "", nil, nil
	}
	if err := s.expect(json.Delim('{'), "table"); err != nil {
		return "", nil, err
	}
	if err := s.d.Decode(&name); err != nil {
		return "", nil, short(err)
	}
	if err := s.expect("columns"); err != nil {
		return "", nil, err
	}
	if err := s.d.Decode(&columns); err != nil {
		return "", nil, short(err)
	}
	if name == "" {
		return "", nil, errors.New("a table has no name")
	}
	return name, columns, s.expect("rows", json.Delim('['))
}

func (s *jsonSource) row([]column) ([]any, error) {
	if !s.d.More() {
		return nil, s.expect(json.Delim(']'), json.Delim('}'))
	}
	var row []any
	if err := s.d.Decode(&row); err != nil {
		return nil, short(err)
	}
	if row == nil {
		return nil, errors.New("null instead of a row")
	}
	for i, v := range row {
		var err error
		if row[i], err = fromJSON(v); err != nil {
			return nil, err
		}
	}
	return row, nil
}

// fromJSON is the reverse of jsonValue.
func fromJSON(v any) (any, error) {
	switch v := v.(type) {
	case nil, string:
		return v, nil
	case json.Number:
		return fromNumber(v.String())
	case map[string]any:
		if len(v) == 1 {
			for key, value := range v {
				if text, ok := value.(string); ok {
					return fromObject(key, text)
				}
			}
		}
	}
	return nil, fmt.Errorf("%s is no value of a table", shown(v))
}

func fromObject(key, text string) (any, error) {
	switch key {
	case "blob64":
		return base64.StdEncoding.Strict().DecodeString(text)
	case "text64":
		b, err := base64.StdEncoding.Strict().DecodeString(text)
		return string(b), err
	case "real":
		switch text {
		case "+Inf":
			return math.Inf(1), nil
		case "-Inf":
			return math.Inf(-1), nil
		}
	}
	return nil, fmt.Errorf("%s is no value of a table", shown(key))
}

// fromNumber reads a number as realText and whole numbers are written.
func fromNumber(text string) (any, error) {
	if strings.ContainsAny(text, ".eEIN") {
		x, err := strconv.ParseFloat(text, 64)
		if err != nil || math.IsNaN(x) {
			return nil, fmt.Errorf("%s is no number", shown(text))
		}
		return x, nil
	}
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil {
		return nil, fmt.Errorf("%s is no whole number", shown(text))
	}
	return n, nil
}
