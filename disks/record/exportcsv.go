package record

import (
	"context"
	"encoding/base64"
	"encoding/csv"
	"errors"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"
)

// layoutFile is the first of the CSV files: the number of the layout, by which the others are to be read.
const layoutFile = "layout"

// How CSV tells apart what it has no words for. In a column of text an empty cell is empty text, so that null needs a
// sign; elsewhere an empty cell is null.
const (
	csvNull = `\N`
	csvCode = `\base64:` // bytes, and text that CSV would change: not UTF-8, with a carriage return, or beginning with \
)

// ExportCSV writes the whole record as CSV, one file a table, each with a line of column names. create makes the file of
// a table, the first one being "layout"; it is closed before the next one is asked for. All of them are of one moment.
func (r *Record) ExportCSV(ctx context.Context, create func(table string) (io.WriteCloser, error)) error {
	to := &csvSink{create: create}
	err := r.dump(ctx, to)
	if to.file != nil { // left open by an error
		err = errors.Join(err, to.file.Close())
	}
	return err
}

type csvSink struct {
	create  func(string) (io.WriteCloser, error)
	file    io.WriteCloser
	w       *csv.Writer
	columns []column
	begun   bool
}

func (s *csvSink) begin(layout int, table string, columns []column) error {
	if !s.begun {
		s.begun = true
		if err := s.open(layoutFile, []string{layoutFile}); err != nil {
			return err
		}
		if err := errors.Join(s.w.Write([]string{strconv.Itoa(layout)}), s.end()); err != nil {
			return err
		}
	}
	names := make([]string, len(columns))
	for i, c := range columns {
		names[i] = c.name
	}
	s.columns = columns
	return s.open(table, names)
}

func (s *csvSink) open(table string, names []string) (err error) {
	if s.file, err = s.create(table); err != nil {
		s.file = nil
		return err
	}
	s.w = csv.NewWriter(s.file)
	return s.w.Write(names)
}

func (s *csvSink) row(values []any) error {
	cells := make([]string, len(values))
	for i, v := range values {
		cells[i] = csvCell(v, s.columns[i].kind)
	}
	return s.w.Write(cells)
}

func (s *csvSink) end() error {
	s.w.Flush()
	err := errors.Join(s.w.Error(), s.file.Close())
	s.file = nil
	return err
}

// csvCell writes a value so that csvValue reads it again.
func csvCell(v any, k kind) string {
	switch v := v.(type) {
	case int64:
		return strconv.FormatInt(v, 10)
	case float64:
		return realText(v)
	case []byte:
		return csvCode + base64.StdEncoding.EncodeToString(v)
	case string:
		if !utf8.ValidString(v) || strings.Contains(v, "\r") || strings.HasPrefix(v, `\`) {
			return csvCode + base64.StdEncoding.EncodeToString([]byte(v))
		}
		return v
	}
	if k == texts {
		return csvNull
	}
	return ""
}
