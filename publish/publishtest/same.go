package publishtest

import (
	"fmt"
	"math"
	"reflect"

	"manobridge/convert"
)

// Difference tells where two results differ, or "" where they are identical: every number to the last bit, NaN equal
// to NaN, and zero equal to negative zero. Contributions are left out; the journal does not keep them.
func Difference(got, want convert.Result) string {
	want.Contributions, got.Contributions = [convert.MaxInputs]float64{}, [convert.MaxInputs]float64{}
	if len(got.Frame) == 0 && len(want.Frame) == 0 {
		got.Frame, want.Frame = nil, nil
	}
	return difference("Result", reflect.ValueOf(got), reflect.ValueOf(want))
}

func difference(path string, got, want reflect.Value) string {
	switch want.Kind() {
	case reflect.Float64:
		g, w := got.Float(), want.Float()
		if g == w || math.IsNaN(g) && math.IsNaN(w) {
			return ""
		}
		return fmt.Sprintf("%s: got %v, want %v ± 0", path, g, w)
	case reflect.Pointer:
		if !got.IsNil() && !want.IsNil() {
			return difference(path, got.Elem(), want.Elem())
		}
	case reflect.Struct:
		if path == "Result.Reading.ReceivedAt" {
			break
		}
		for i := range want.NumField() {
			if d := difference(path+"."+want.Type().Field(i).Name, got.Field(i), want.Field(i)); d != "" {
				return d
			}
		}
		return ""
	}
	if !reflect.DeepEqual(got.Interface(), want.Interface()) {
		return fmt.Sprintf("%s: got %v, want %v", path, got.Interface(), want.Interface())
	}
	return ""
}
