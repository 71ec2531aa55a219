package clock_test

import (
	"fmt"
	"time"

	"example.org/unseen/history/clock"
)

// A column settles for itself how it writes dates: no month has 19 days.
func ExampleSurvey() {
	var s clock.Survey
	for i, v := range []string{"04/03/2025 19:17:56", "19/03/2025 06:02:11"} {
		s.Add([]byte(v), i+2)
	}
	layout, _, err := s.Settle(clock.Unsettled)
	if err != nil {
		panic(err)
	}
	dublin, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		panic(err)
	}
	cursor := clock.NewZone(dublin).Cursor()
	ms, _, _ := cursor.Read(layout, []byte("04/04/2025 19:17:56"))
	fmt.Println(time.UnixMilli(ms).UTC().Format(time.RFC3339))
	// Output:
	// 2025-04-04T18:17:56Z
}

// What is no order of dates is refused with those there are.
func ExampleParseOrder() {
	order, err := clock.ParseOrder("day first")
	fmt.Println(order, err)
	_, err = clock.ParseOrder("day frist")
	fmt.Println(err)
	// Output:
	// day first <nil>
	// date_order "day frist": write "day first" or "month first"
}
