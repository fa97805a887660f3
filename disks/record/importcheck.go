package record

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// checkRow refuses what the tables themselves would take and the program could not read again: a value of another kind, a
// wall time that is none, a text that is not what its SHA-256 says.
func checkRow(table string, columns []column, values []any) error {
	if len(values) != len(columns) {
		return fmt.Errorf("it has %d values for %d columns", len(values), len(columns))
	}
	for i, c := range columns {
		if err := checkValue(c, values[i]); err != nil {
			return fmt.Errorf("column %s: %w", c.name, err)
		}
	}
	return checkSums(table, columns, values)
}

func checkValue(c column, v any) error {
	fits := true
	switch v := v.(type) {
	case nil:
	case int64:
		fits = c.kind == integers || c.kind == reals
	case float64:
		fits = c.kind == reals
	case []byte:
		fits = c.kind == blobs
	case string:
		fits = c.kind == texts
		if c.name == "wall" || strings.HasSuffix(c.name, "_wall") {
			if _, err := time.Parse(wallLayout, v); err != nil {
				return fmt.Errorf("%s is no wall time", shown(v))
			}
		}
	}
	if !fits {
		return fmt.Errorf("%s does not belong there", shown(v))
	}
	return nil
}

// shown is the beginning of a value, for a sentence.
func shown(v any) string {
	text := []rune(fmt.Sprintf("%v", v))
	if len(text) > 40 {
		text = append(text[:40], '…')
	}
	return strconv.Quote(string(text))
}

// checkSums compares the texts that are kept under their SHA-256 with it.
func checkSums(table string, columns []column, values []any) error {
	cell := func(name string) any {
		if i := slices.IndexFunc(columns, func(c column) bool { return c.name == name }); i >= 0 {
			return values[i]
		}
		return nil
	}
	sum, _ := cell("sha256").(string)
	switch table {
	case "file":
		if body, _ := cell("body").(string); sumOf([]byte(body)) != sum {
			return errors.New("the text is not what its SHA-256 says")
		}
	case "readback_table":
		packed, _ := cell("body_gzip").([]byte)
		size, _ := cell("text_bytes").(int64)
		if _, err := unpack(packed, size, sum); err != nil {
			return fmt.Errorf("the table cannot be used: %w", err)
		}
	}
	return nil
}
