package replicate

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"hash"
	"io"
	"math"

	"example.org/unseen/cjs/model"
)

// dataSHA is the SHA-256 of the fish a model was fitted to: their classes,
// numbers and histories, in the order of the records; where times count, these, when
// rows did not work, and while the season runs when the data end.
func dataSHA(p *model.Problem) string {
	w := &hasher{sha256.New()}
	h := p.Histories
	for i := range h.River.Sites {
		s := &h.River.Sites[i]
		w.text(s.Name)
		w.number(len(s.Rows))
		for _, r := range s.Rows {
			w.text(r)
		}
	}
	for i := range h.Entry {
		w.number(int(p.ClassOf[i]))
		w.number(int(h.Entry[i]))
		w.number(int(h.Seen[i]))
		w.number(int(h.End[i]))
		w.number(h.Weight(i))
		if !h.New(i) {
			w.text("again")
		}
		for _, z := range p.Z {
			w.number(int(math.Float64bits(z[i])))
		}
	}
	if p.Timed() {
		w.times(p)
	}
	for _, t := range p.TestPasses {
		w.number(t.Row)
		w.number(t.Passes)
		w.number(t.Read)
	}
	return w.sum()
}

// times takes in the times of the fish, and those in which rows did not work.
func (h *hasher) times(p *model.Problem) {
	for _, all := range [][]int64{p.Histories.Released, p.Histories.First} {
		for _, ms := range all {
			h.number(int(ms))
		}
	}
	if p.Running() {
		h.number(int(p.AsOf))
	}
	if !p.Windowed() {
		return
	}
	for _, idle := range p.Outages().Rows {
		h.number(len(idle))
		for _, s := range idle {
			h.number(int(s[0]))
			h.number(int(s[1]))
		}
	}
}

// modelSHA is the SHA-256 of the model: its words and its design.
func modelSHA(p *model.Problem) string {
	w := &hasher{sha256.New()}
	w.text(p.Words())
	for i, c := range p.Categories {
		w.text(c)
		for _, l := range p.Levels[i] {
			w.text(l)
		}
	}
	w.text(fmt.Sprint(p.Design.Columns, p.Design.Numbers, p.Design.Slots, p.Design.Links))
	return w.sum()
}

type hasher struct{ hash.Hash }

// text takes in the length too, so that no two lists of texts are alike.
func (h *hasher) text(s string) {
	h.number(len(s))
	_, _ = io.WriteString(h, s) // a hash never fails
}

func (h *hasher) number(n int) {
	var b [8]byte
	binary.LittleEndian.PutUint64(b[:], uint64(n))
	_, _ = h.Write(b[:])
}

func (h *hasher) sum() string { return hex.EncodeToString(h.Sum(nil)) }
