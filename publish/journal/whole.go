package journal

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"encoding/binary"
	"errors"
	"fmt"
	"iter"
	"math"

	"modernc.org/sqlite"
)

// Rows are read in one piece. SQLite takes a lock for each column asked for, and more for each row, which costs more than all
// else; so the readers' connections have an aggregate, whole, that gives the arguments it got in all rows as one blob.

// connector opens connections with a driver of its own.
type connector struct {
	driver *sqlite.Driver
	dsn    string
}

// Connect is that of driver.Connector.
func (c connector) Connect(context.Context) (driver.Conn, error) { return c.driver.Open(c.dsn) }

// Driver is that of driver.Connector.
func (c connector) Driver() driver.Driver { return c.driver }

// openWhole opens a pool whose connections have the aggregate whole.
func openWhole(dsn string) (*sql.DB, error) {
	d := &sqlite.Driver{}
	err := d.RegisterFunction("whole", &sqlite.FunctionImpl{NArgs: -1, Deterministic: true, VolatileArgs: true,
		MakeAggregate: func(sqlite.FunctionContext) (sqlite.AggregateFunction, error) { return &whole{}, nil }})
	if err != nil {
		return nil, err
	}
	return sql.OpenDB(connector{d, dsn}), nil
}

// rowHead is how many bytes stand before the cells of a row: their length.
const rowHead = 4

// whole gathers rows: the length of each in rowHead bytes, then its cells.
type whole struct{ rows []byte }

// Step adds a row.
func (w *whole) Step(_ *sqlite.FunctionContext, row []driver.Value) (err error) {
	w.rows, err = appendRow(w.rows, row)
	return err
}

// appendRow writes what wholeRows reads.
func appendRow[V any](dst []byte, row []V) ([]byte, error) {
	at := len(dst)
	dst, err := appendCells(append(dst, make([]byte, rowHead)...), row)
	binary.LittleEndian.PutUint32(dst[at:], uint32(len(dst)-at-rowHead)) // a blob of SQLite is shorter than 2³¹
	return dst, err
}

// WindowInverse is there for the interface: whole is no function of windows.
func (w *whole) WindowInverse(*sqlite.FunctionContext, []driver.Value) error {
	return errors.New("whole takes no window")
}

// WindowValue gives the rows.
func (w *whole) WindowValue(*sqlite.FunctionContext) (driver.Value, error) { return w.rows, nil }

// Final is there for the interface.
func (w *whole) Final(*sqlite.FunctionContext) {}

// wholeRows gives the cells of each row that whole gathered.
func wholeRows(rows []byte) iter.Seq[[]byte] {
	return func(yield func([]byte) bool) {
		for len(rows) > 0 {
			end := rowHead + binary.LittleEndian.Uint32(rows)
			if !yield(rows[rowHead:end]) {
				return
			}
			rows = rows[end:]
		}
	}
}

// The sorts of a cell, each one byte before it.
const (
	cellNull  = iota
	cellWhole // 8 bytes
	cellReal  // 8 bytes
	cellBlob  // its length as an unsigned varint, and its bytes
	cellText  // the same
)

// appendCells writes the values one after another.
func appendCells[V any](dst []byte, values []V) ([]byte, error) {
	for _, v := range values {
		switch v := any(v).(type) {
		case nil:
			dst = append(dst, cellNull)
		case int64:
			dst = binary.LittleEndian.AppendUint64(append(dst, cellWhole), uint64(v))
		case float64:
			dst = binary.LittleEndian.AppendUint64(append(dst, cellReal), math.Float64bits(v))
		case []byte:
			dst = append(binary.AppendUvarint(append(dst, cellBlob), uint64(len(v))), v...)
		case string:
			dst = append(binary.AppendUvarint(append(dst, cellText), uint64(len(v))), v...)
		default:
			return dst, fmt.Errorf("a column holds a %T", v)
		}
	}
	return dst, nil
}

// cells reads what appendCells wrote, in the same order. What does not fit what is asked for is kept as the first error.
type cells struct {
	rest []byte
	err  error
}

// next gives the sort of the next cell and what it holds: 8 bytes, those of a blob or a text, or none.
func (c *cells) next() (sort byte, held []byte) {
	if len(c.rest) == 0 {
		c.fail("there are fewer columns")
		return cellNull, nil
	}
	sort, c.rest = c.rest[0], c.rest[1:]
	length, n := uint64(0), 0
	switch sort {
	case cellWhole, cellReal:
		length = 8
	case cellBlob, cellText:
		length, n = binary.Uvarint(c.rest)
	}
	if n < 0 || length > uint64(len(c.rest)-n) {
		c.fail("a column is cut off")
		return cellNull, nil
	}
	held = c.rest[n : n+int(length)]
	c.rest = c.rest[n+int(length):]
	return sort, held
}

func (c *cells) fail(why string) {
	if c.err == nil {
		c.err = errors.New(why)
	}
	c.rest = nil
}

func (c *cells) whole() int64 {
	sort, held := c.next()
	if sort != cellWhole {
		c.fail("a column holds no whole number where one belongs")
		return 0
	}
	return int64(binary.LittleEndian.Uint64(held))
}

func (c *cells) wholeOrNone() (v sql.NullInt64) {
	switch sort, held := c.next(); sort {
	case cellWhole:
		v.Int64, v.Valid = int64(binary.LittleEndian.Uint64(held)), true
	case cellNull:
	default:
		c.fail("a column holds no whole number where one belongs")
	}
	return v
}

func (c *cells) realOrNone() (v sql.NullFloat64) {
	switch sort, held := c.next(); sort {
	case cellReal:
		v.Float64, v.Valid = math.Float64frombits(binary.LittleEndian.Uint64(held)), true
	case cellWhole:
		v.Float64, v.Valid = float64(int64(binary.LittleEndian.Uint64(held))), true
	case cellNull:
	default:
		c.fail("a column holds no number where one belongs")
	}
	return v
}

func (c *cells) textOrNone() (v sql.NullString) {
	switch sort, held := c.next(); sort {
	case cellText:
		v.String, v.Valid = string(held), true
	case cellNull:
	default:
		c.fail("a column holds no text where one belongs")
	}
	return v
}

// blob gives a copy, or nil: a row that is kept must not keep the rows around it.
func (c *cells) blob() []byte {
	switch sort, held := c.next(); sort {
	case cellBlob:
		return append([]byte{}, held...)
	case cellNull:
	default:
		c.fail("a column holds no bytes where they belong")
	}
	return nil
}

// any gives what number reads.
func (c *cells) any() any {
	switch sort, held := c.next(); sort {
	case cellWhole:
		return int64(binary.LittleEndian.Uint64(held))
	case cellReal:
		return math.Float64frombits(binary.LittleEndian.Uint64(held))
	case cellText:
		return string(held)
	case cellBlob:
		c.fail("a column holds bytes where a number belongs")
	}
	return nil
}
