package frame

// Set puts a number, in the unit of the field's name, into the frame. False where no field of numbers has that name.
func (f *Frame) Set(name string, v float64) bool {
	to, ok := fieldNamed(name)
	if !ok || to == skip || to == address {
		return false
	}
	f.set(to, v)
	return true
}

// SetLost notes that a field came without a value. False where the frame is then worth nothing.
func (f *Frame) SetLost(name string) bool {
	to, ok := fieldNamed(name)
	if !ok || !to.mayBeLost() {
		return false
	}
	f.camera()
	return true
}

// BenchName gives what a person at the bench calls a field, empty for an unknown one.
func BenchName(name string) string {
	f, ok := fieldNamed(name)
	if !ok {
		return ""
	}
	return fieldInfos[f].bench
}
