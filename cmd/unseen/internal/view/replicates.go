package view

// fewReplicates: of fewer the share can never be below 0.05, whatever the fit.
const fewReplicates = 20

func failures(count map[string]int) (n int) {
	for _, k := range count {
		n += k
	}
	return n
}
