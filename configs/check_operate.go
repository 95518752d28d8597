package configs

// display checks the unit that people are shown.
func (k *checker) display() {
	if u := k.c.DisplayUnit; u != "" && k.o.PressureUnit != nil && !k.bad("display_unit") {
		if err := k.o.PressureUnit(u); err != nil {
			k.report("display_unit", Problem{Seen: quote(u), Fault: "is not a unit of pressure", Hint: err.Error()})
		}
	}
}
