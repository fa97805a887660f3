package record

import (
	"bufio"
	"bytes"
	"context"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// exportName begins every document, so that another one is not taken for it.
const exportName = "fullery record"

// Export writes the whole record as one JSON document, a line a row:
//
//	{"what": "fullery record", "layout": 5, "tables": [
//	{"table": "disk", "columns": ["id", …], "rows": [
//	["SB-0147", …],
//	…]},
//	…]}
//
// What JSON cannot hold stands as an object: {"blob64": …} for bytes, {"text64": …} for text that is not UTF-8, both in
// base64, and {"real": …} for an infinity. The document is of one moment, also while a cycle is being written. Errors of
// w are returned as they are.
func (r *Record) Export(ctx context.Context, w io.Writer) error {
	to := &jsonSink{w: bufio.NewWriterSize(w, 1<<16)}
	if err := r.dump(ctx, to); err != nil {
		return err
	}
	to.w.WriteString("\n]}\n")
	return to.w.Flush()
}

// jsonSink leaves errors to the buffer, which keeps the first one.
type jsonSink struct {
	w      *bufio.Writer
	tables int
	rows   int
}

func (s *jsonSink) begin(layout int, table string, columns []column) error {
	if s.tables++; s.tables == 1 {
		fmt.Fprintf(s.w, "{\"what\": %q, \"layout\": %d, \"tables\": [\n", exportName, layout)
	} else {
		s.w.WriteString(",\n")
	}
	names := make([]string, len(columns))
	for i, c := range columns {
		names[i] = strconv.Quote(c.name)
	}
	s.rows = 0
	_, err := fmt.Fprintf(s.w, "{\"table\": %q, \"columns\": [%s], \"rows\": [", table, strings.Join(names, ", "))
	return err
}

func (s *jsonSink) row(values []any) error {
	if s.rows++; s.rows > 1 {
		s.w.WriteString(",")
	}
	s.w.WriteString("\n[")
	for i, v := range values {
		if i > 0 {
			s.w.WriteString(", ")
		}
		text, err := jsonValue(v)
		if err != nil {
			return err
		}
		s.w.Write(text)
	}
	return s.w.WriteByte(']')
}

func (s *jsonSink) end() error {
	_, err := s.w.WriteString("]}")
	return err
}

// jsonValue writes a value so that it can be told again what it was: reals have a point or an exponent.
func jsonValue(v any) ([]byte, error) {
	switch v := v.(type) {
	case nil:
		return []byte("null"), nil
	case int64:
		return strconv.AppendInt(nil, v, 10), nil
	case float64:
		if math.IsInf(v, 0) {
			return fmt.Appendf(nil, `{"real": %q}`, realText(v)), nil
		}
		return []byte(realText(v)), nil
	case []byte:
		return fmt.Appendf(nil, `{"blob64": %q}`, base64.StdEncoding.EncodeToString(v)), nil
	case string:
		if !utf8.ValidString(v) {
			return fmt.Appendf(nil, `{"text64": %q}`, base64.StdEncoding.EncodeToString([]byte(v))), nil
		}
		var to bytes.Buffer
		e := json.NewEncoder(&to)
		e.SetEscapeHTML(false)
		err := e.Encode(v)
		return bytes.TrimSuffix(to.Bytes(), []byte("\n")), err
	}
	return nil, fmt.Errorf("a value of type %T cannot be exported", v)
}

// realText is the shortest decimal number that reads as v again, never like a whole one.
func realText(v float64) string {
	text := strconv.FormatFloat(v, 'g', -1, 64)
	if !strings.ContainsAny(text, ".eIN") {
		text += ".0"
	}
	return text
}
