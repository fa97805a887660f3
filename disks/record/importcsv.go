package record

import (
	"bufio"
	"context"
	"encoding/base64"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// ImportCSV reads the files that ExportCSV wrote into an empty record, as Import does a document. open opens the file of
// a table, the first one being "layout"; it is closed before the next one is asked for. Its errors are returned inside
// an *Error.
func (r *Record) ImportCSV(ctx context.Context, open func(table string) (io.ReadCloser, error)) error {
	from := &csvSource{open: open}
	err := r.load(ctx, from)
	if e := from.close(); err == nil {
		err = e
	}
	return err
}

type csvSource struct {
	open func(string) (io.ReadCloser, error)
	file io.ReadCloser
	r    *csv.Reader
	next int // place in exported
}

// begin opens the file of a table and returns its line of names.
func (s *csvSource) begin(table string) (names []string, err error) {
	if s.file, err = s.open(table); err != nil {
		s.file = nil
		return nil, err
	}
	text := bufio.NewReader(s.file)
	if mark, err := text.Peek(3); err == nil && string(mark) == "\ufeff" { // a spreadsheet puts it there
		text.Discard(3)
	}
	s.r = csv.NewReader(text)
	names, err = s.r.Read()
	if err != nil {
		return nil, fmt.Errorf("table %s: %w", table, short(err))
	}
	return names, nil
}

func (s *csvSource) close() error {
	if s.file == nil {
		return nil
	}
	err := s.file.Close()
	s.file = nil
	return err
}

func (s *csvSource) layout() (int, error) {
	names, err := s.begin(layoutFile)
	if err != nil {
		return 0, err
	}
	row, err := s.r.Read()
	if err != nil {
		return 0, short(err)
	}
	n, err := strconv.Atoi(row[0])
	if len(names) != 1 || names[0] != layoutFile || err != nil || n < 1 {
		return 0, fmt.Errorf("its layout reads %s", shown(row[0]))
	}
	return n, s.close()
}

func (s *csvSource) table() (string, []string, error) {
	if s.next == len(exported) {
		return "", nil, nil
	}
	name := exported[s.next].table
	s.next++
	names, err := s.begin(name)
	return name, names, err
}

func (s *csvSource) row(columns []column) ([]any, error) {
	cells, err := s.r.Read()
	if errors.Is(err, io.EOF) {
		return nil, s.close()
	}
	if err != nil {
		return nil, err
	}
	values := make([]any, len(cells))
	for i, cell := range cells {
		if values[i], err = csvValue(cell, columns[i].kind); err != nil {
			return nil, fmt.Errorf("column %s: %w", columns[i].name, err)
		}
	}
	return values, nil
}

// csvValue is the reverse of csvCell.
func csvValue(cell string, k kind) (any, error) {
	code, coded := strings.CutPrefix(cell, csvCode)
	switch {
	case cell == csvNull, cell == "" && k != texts:
		return nil, nil
	case coded:
		b, err := base64.StdEncoding.Strict().DecodeString(code)
		if err == nil && k == texts {
			return string(b), nil
		}
		return b, err
	case k == texts:
		return cell, nil
	}
	return fromNumber(cell)
}
