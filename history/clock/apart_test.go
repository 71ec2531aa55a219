package clock

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// What a spreadsheet keeps of a date and a time of day is written out.
func TestDayFraction(t *testing.T) {
	for in, want := range map[string]string{
		"0": "00:00:00", "0.5": "12:00:00", ".25": "06:00:00", "4.1666666666666664E-2": "01:00:00", "0.99999999999": "23:59:59.999",
		"0.000011574074074074074": "00:00:01", "0.1234567": "02:57:46.659",
		"1": "1", "1.5": "1.5", "-0.5": "-0.5", "0405": "0405", "12:30": "12:30", "12.30": "12.30", "noon": "noon", "": "",
	} {
		assert.Equal(t, want, string(appendTimeOfDay(nil, []byte(in))), in)
	}
	for in, want := range map[string]string{"45752": "2025-04-05", "60000": "2064-04-08", "00001": "00001", "4575x": "4575x", "2025-04-05": "2025-04-05"} {
		assert.Equal(t, want, string(appendDay(nil, []byte(in))), in)
	}
}
