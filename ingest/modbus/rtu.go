// Package modbus writes questions to instruments that speak Modbus RTU and reads their answers.
//
// It is pure: no input or output, no clock. It knows functions 03 (holding registers) and 04 (input registers) and
// nothing that writes: an instrument is never changed. It refuses to read on past anything that does not fit: another
// unit, another function, another count, a check value that differs. Sources: Modbus Application Protocol Specification
// V1.1b3, 2012; Modbus over Serial Line Specification and Implementation Guide V1.02, 2006.
package modbus

import (
	"encoding/binary"
	"fmt"
)

// Limits of the protocol.
const (
	MinUnit      = 1   // 0 is the broadcast, which nobody answers
	MaxUnit      = 247 // serial line guide, 2.2
	MaxRegisters = 125 // of one question, application protocol 6.3
)

// Function is what is asked.
type Function uint8

// The functions.
const (
	ReadHolding Function = 3
	ReadInput   Function = 4
)

// exception is the bit that an instrument sets in the function to say that it cannot answer.
const exception = 0x80

// Question asks one unit for registers that stand together.
type Question struct {
	Unit     uint8
	Function Function
	First    uint16 // as it stands on the line, from 0
	Count    int    // of registers
}

// Validate says what is wrong with the question.
func (q Question) Validate() error {
	switch {
	case q.Unit < MinUnit || q.Unit > MaxUnit:
		return fmt.Errorf("unit %d is outside %d to %d", q.Unit, MinUnit, MaxUnit)
	case q.Function != ReadHolding && q.Function != ReadInput:
		return fmt.Errorf("function %d is neither 3 nor 4", q.Function)
	case q.Count < 1 || q.Count > MaxRegisters:
		return fmt.Errorf("%d registers is outside 1 to %d", q.Count, MaxRegisters)
	case int(q.First)+q.Count > 0x10000:
		return fmt.Errorf("%d registers from %d pass the last, 65535", q.Count, q.First)
	}
	return nil
}

// Append adds the question as it is sent, check value included.
func (q Question) Append(to []byte) []byte {
	start := len(to)
	to = append(to, q.Unit, byte(q.Function))
	to = binary.BigEndian.AppendUint16(to, q.First)
	to = binary.BigEndian.AppendUint16(to, uint16(q.Count))
	return binary.LittleEndian.AppendUint16(to, crc(to[start:]))
}

// Fault says how an answer does not fit its question.
type Fault uint8

// The faults.
const (
	Unfit     Fault = iota + 1 // another function or count than asked
	Foreign                    // from another unit than asked
	Damaged                    // the check value differs
	Exception                  // the instrument says that it has no answer
)

// Error is a fault with what was seen and what was allowed.
type Error struct {
	Fault         Fault
	Seen, Allowed string
}

// Error gives both in one line.
func (e *Error) Error() string { return e.Seen + "; allowed: " + e.Allowed }

// Length tells from the bytes so far how long the answer is going to be; 0 while that cannot be told. The error, where
// not nil, is an *Error: no answer to this question begins so.
func (q Question) Length(got []byte) (int, error) {
	if len(got) > 0 && got[0] != q.Unit {
		return 0, &Error{Foreign, fmt.Sprintf("unit %d answered", got[0]), fmt.Sprintf("unit %d, which was asked", q.Unit)}
	}
	if len(got) < 2 {
		return 0, nil
	}
	switch got[1] {
	case byte(q.Function) | exception:
		return 5, nil
	case byte(q.Function):
	default:
		return 0, &Error{Unfit, fmt.Sprintf("answer has function %d", got[1]), fmt.Sprintf("function %d, which was asked", q.Function)}
	}
	if len(got) < 3 {
		return 0, nil
	}
	if int(got[2]) != 2*q.Count {
		return 0, &Error{Unfit, fmt.Sprintf("answer has %d bytes of data", got[2]), fmt.Sprintf("%d bytes for %d registers", 2*q.Count, q.Count)}
	}
	return 5 + 2*q.Count, nil
}

// Registers gives the data of a whole answer: two bytes a register, as sent. The error is an *Error.
func (q Question) Registers(answer []byte) ([]byte, error) {
	n, err := q.Length(answer)
	if err != nil {
		return nil, err
	}
	if n == 0 || len(answer) != n {
		return nil, &Error{Unfit, fmt.Sprintf("answer has %d bytes", len(answer)), fmt.Sprintf("%d bytes", 5+2*q.Count)}
	}
	body := answer[:n-2]
	if sent, computed := binary.LittleEndian.Uint16(answer[n-2:]), crc(body); sent != computed {
		return nil, &Error{Damaged, fmt.Sprintf("check value %04X does not fit, computed %04X", sent, computed), "a check value that fits"}
	}
	if answer[1]&exception != 0 {
		return nil, &Error{Exception, fmt.Sprintf("exception %d (%s)", answer[2], exceptionWords(answer[2])), "registers with a value"}
	}
	return body[3:], nil
}

// exceptionWords names the exceptions of application protocol 7.
func exceptionWords(code byte) string {
	switch code {
	case 1:
		return "illegal function"
	case 2:
		return "illegal data address"
	case 3:
		return "illegal data value"
	case 4:
		return "device failure"
	case 5:
		return "acknowledge"
	case 6:
		return "device busy"
	case 8:
		return "memory parity error"
	case 10:
		return "gateway path unavailable"
	case 11:
		return "gateway target failed to respond"
	}
	return "not in the standard"
}

// crc is the check value of serial line guide 6.2.2: polynomial A001 reflected, starting from FFFF, low byte sent first.
func crc(b []byte) uint16 {
	r := uint16(0xFFFF)
	for _, v := range b {
		r ^= uint16(v)
		for range 8 {
			low := r & 1
			r >>= 1
			if low != 0 {
				r ^= 0xA001
			}
		}
	}
	return r
}
