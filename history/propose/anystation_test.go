package propose_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/japanese"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/encoding/unicode/utf32"
)

// tongue is how a crew calls its columns; no heading may be needed to tell them.
type tongue struct {
	tag, released, clock, length, weight, caught string
	when, day, site, antenna, volts, who, loaded string
	units                                        string
}

var tongues = []tongue{
	{"Tag", "Released", "Release time", "Length", "Weight", "Caught", "Timestamp", "Date", "Station", "Antenna", "Volts", "By", "Downloaded", "mm"},
	{"Transponder", "Freigelassen", "Uhrzeit", "Länge", "Gewicht", "Fangdatum", "Zeitpunkt", "Datum", "Standort", "Antenne", "Spannung", "Kürzel", "Ausgelesen", "[mm]"},
	{"Puce", "Remise à l'eau", "Heure", "Taille", "Poids", "Capture", "Horodatage", "Date", "Lieu", "Antenne", "Tension", "Opérateur", "Téléchargé", "mm"},
	{"Marca", "Suelta", "Hora", "Talla", "Peso", "Captura", "Momento", "Fecha", "Punto", "Lector", "Voltaje", "Obs", "Descarga", "(mm)"},
	{"Merke", "Sluppet", "Klokkeslett", "Lengde", "Vekt", "Fanget", "Tidspunkt", "Dato", "Stasjon", "Antenne", "Spenning", "Sign", "Lastet ned", "mm"},
	{"Mærke", "Udsat", "kl.", "Længde", "Vægt", "Fanget", "Tid", "Dato", "Sted", "Læser", "Volt", "Init", "Hentet", "mm"},
	{"Märke", "Utsatt", "Klockslag", "Längd", "Vikt", "Fångad", "Tidpunkt", "Datum", "Plats", "Antenn", "Spänning", "Sign", "Hämtad", "mm"},
	{"Merkki", "Vapautettu", "klo", "Pituus", "Paino", "Pyydetty", "Aika", "Pvm", "Paikka", "Antenni", "Jännite", "Tekijä", "Ladattu", "mm"},
	{"Znaczek", "Wypuszczono", "Godzina", "Długość", "Masa", "Złowiono", "Czas", "Data", "Stanowisko", "Czytnik", "Napięcie", "Kto", "Pobrano", "mm"},
	{"Código", "Libertação", "Hora", "Comprimento", "Peso", "Captura", "Instante", "Data", "Local", "Leitor", "Tensão", "Resp", "Descarregado", "mm"},
	{"Codice", "Rilascio", "Ora", "Lunghezza", "Peso", "Cattura", "Istante", "Giorno", "Luogo", "Lettore", "Tensione", "Chi", "Scaricato", "mm"},
	{"Метка", "Выпуск", "Время", "Длина", "Масса", "Поймана", "Момент", "Дата", "Место", "Антенна", "Вольт", "Кто", "Загружено", "мм"},
	{"タグ", "放流", "時刻", "体長", "体重", "捕獲", "日時", "日付", "地点", "アンテナ", "電圧", "担当", "取込", "mm"},
	{"c1", "c2", "c3", "c4", "c5", "c6", "c7", "c8", "c9", "c10", "c11", "c12", "c13", "mm"},
}

// writing is how a crew writes a text file.
type writing struct {
	delimiter, end string
	enc            encoding.Encoding
	decimal        string
	day, clock     string
}

var (
	days   = []string{"2006-01-02", "02.01.2006", "2/1/2006", "02-01-2006", "2006/01/02", "01/02/2006", "02-Jan-2006", "02.01.06", "20060102"}
	clocks = []string{"15:04:05", "15.04.05", "3:04:05 PM", "15:04:05.000", "15h04m05"}
)

func (c *crew) writing() writing {
	w := writing{
		delimiter: []string{",", ";", "\t", "|"}[c.IntN(4)], end: []string{"\n", "\r\n", "\r"}[c.IntN(3)], decimal: ".",
		day: days[c.IntN(len(days))], clock: clocks[c.IntN(len(clocks))],
	}
	if w.delimiter != "," && c.IntN(2) == 0 {
		w.decimal = ","
	}
	w.enc = []encoding.Encoding{nil, nil, unicode.UTF8BOM, unicode.UTF16(unicode.LittleEndian, unicode.UseBOM), unicode.UTF16(unicode.BigEndian, unicode.UseBOM), utf32.UTF32(utf32.LittleEndian, utf32.UseBOM),
		charmap.Windows1252, charmap.Windows1250, charmap.Windows1251, japanese.ShiftJIS}[c.IntN(10)]
	return w
}

func (w writing) number(v float64) string {
	return strings.Replace(fmt.Sprintf("%.1f", v), ".", w.decimal, 1)
}

func (w writing) quote(row []string) string {
	for i, s := range row {
		if strings.Contains(s, w.delimiter) {
			row[i] = `"` + s + `"`
		}
	}
	return strings.Join(row, w.delimiter)
}

// encodable gives the encoding where it has all letters, else UTF-8; that of
// Japanese for Japanese alone.
func encodable(enc encoding.Encoding, lines []string) encoding.Encoding {
	if enc == japanese.ShiftJIS && !strings.Contains(strings.Join(lines[:min(5, len(lines))], ""), "タグ") {
		return nil
	}
	if enc != nil {
		if _, err := enc.NewEncoder().String(strings.Join(lines, "")); err != nil {
			return nil
		}
	}
	return enc
}

// writeFish writes a tagging table as some crew might.
func (c *crew) writeFish(l tongue) {
	w := c.writing()
	apart, caught, hex, nr := c.IntN(2) == 0, c.IntN(3) == 0, c.IntN(3) == 0, c.IntN(2) == 0
	if w.day == "01/02/2006" {
		w.day = "2006-01-02"
	}
	var columns []string
	if nr {
		columns = append(columns, "Nr")
	}
	rest := []string{l.tag, l.length, l.weight}
	c.Shuffle(len(rest), func(i, k int) { rest[i], rest[k] = rest[k], rest[i] })
	columns = append(columns, rest...)
	if caught {
		columns = append(columns, l.caught)
	}
	columns = append(columns, l.released)
	if apart {
		columns = append(columns, l.clock)
	}
	place, second, both := c.IntN(4) == 0, c.IntN(4) == 0, c.IntN(5) == 0
	if place {
		columns = append(columns, "Place of "+l.released)
	}
	if second {
		columns = append(columns, l.tag+" 2")
	}
	if both {
		columns = append(columns, l.tag+" hex")
	}
	cells := func(i int, f smolt) []string {
		tag := f.tag
		if hex {
			tag = c.hex(tag, ".")
		}
		when := f.released.Format(w.day + " " + w.clock)
		if apart {
			when = f.released.Format(w.day)
		}
		m := map[string]string{"Nr": fmt.Sprint(i + 1), l.tag: tag, l.length: w.number(f.length), l.weight: w.number(f.weight), l.caught: f.released.Add(-31 * time.Hour).Format(w.day + " " + w.clock),
			l.released: when, l.clock: f.released.Format(w.clock),
			"Place of " + l.released: "Mill Lade", l.tag + " 2": f.second, l.tag + " hex": c.hex(f.tag, ".")}
		var row []string
		for _, name := range columns {
			row = append(row, m[name])
		}
		return row
	}
	if c.IntN(4) == 0 {
		rows := [][]any{anys(columns)}
		for i, f := range c.fish {
			rows = append(rows, anys(cells(i, f)))
		}
		f := excelize.NewFile()
		c.sheet(f, "A", rows)
		c.save(f, "fish.xlsx")
		return
	}
	var lines []string
	if c.IntN(3) == 0 {
		lines = append(lines, "2025", "")
	}
	lines = append(lines, w.quote(slices.Clone(columns)))
	if c.IntN(3) == 0 {
		units := make([]string, len(columns))
		units[slices.Index(columns, l.length)] = l.units
		lines = append(lines, strings.Join(units, w.delimiter))
	}
	for i, f := range c.fish {
		lines = append(lines, w.quote(cells(i, f)))
	}
	if c.IntN(3) == 0 {
		total := make([]string, len(columns))
		total[0], total[slices.Index(columns, l.weight)] = "Total", w.number(2345.6)
		lines = append(lines, "", strings.Join(total, w.delimiter))
	}
	c.file([]string{"fish.csv", "tagging/2025.txt", "released.tsv"}[c.IntN(3)], encodable(w.enc, lines), w.end, lines)
}

func anys(row []string) (out []any) {
	for _, s := range row {
		out = append(out, s)
	}
	return out
}

// inWidths is a row of fixed-width text.
func inWidths(row []string) string {
	line := ""
	for _, cell := range row {
		line += cell + strings.Repeat(" ", max(1, 26-len([]rune(cell))))
	}
	return line
}

// kept are the ways in which array files are kept.
var kept = []string{"one file", "a file a month", "a file a day in folders", "file names", "folders", "sheets", "lines above"}

// writeReads writes the array files as some crew might.
func (c *crew) writeReads(l tongue, how string) {
	w := c.writing()
	apart := c.IntN(2) == 0
	named := how == "file names" || how == "folders" || how == "sheets" || how == "lines above"
	columns := []string{l.tag, l.when}
	if apart {
		columns = []string{l.tag, l.day, l.clock}
	}
	if !named {
		columns = append(columns, l.site)
	}
	for _, more := range []string{l.antenna, l.volts, l.who, l.loaded, "No", "Serial"} {
		if c.IntN(3) == 0 {
			columns = append(columns, more)
		}
	}
	c.Shuffle(len(columns), func(i, k int) { columns[i], columns[k] = columns[k], columns[i] })
	if i, k := slices.Index(columns, l.day), slices.Index(columns, l.clock); apart && i > k {
		columns[i], columns[k] = columns[k], columns[i]
	}
	hex := []string{"", "", ".", " ", "-", "/"}[c.IntN(6)]
	if hex == w.delimiter {
		hex = ""
	}
	cells := func(n int, x swim) []string {
		tag := x.tag
		if hex != "" {
			tag = c.hex(tag, hex)
		}
		loaded := x.at.Truncate(96 * time.Hour).Add(97 * time.Hour)
		m := map[string]string{l.tag: tag, l.when: x.at.Format(w.day + " " + w.clock), l.day: x.at.Format(w.day), l.clock: x.at.Format(w.clock), l.site: c.sites[x.site],
			l.antenna: fmt.Sprint(x.antenna + 1), l.volts: w.number(11.5 + c.Float64()), l.who: []string{"AB", "KLM", "Jo"}[c.IntN(3)], l.loaded: loaded.Format(w.day + " " + w.clock), "No": fmt.Sprint(n + 1), "Serial": fmt.Sprint(40127 + 11*x.site)}
		var row []string
		for _, name := range columns {
			row = append(row, m[name])
		}
		return row
	}
	files := map[string][]swim{}
	for _, x := range c.reads {
		key := "reads"
		switch {
		case named:
			key = c.sites[x.site]
		case how == "a file a month":
			key = "reads " + x.at.Format("2006-01")
		case how == "a file a day in folders":
			key = x.at.Format("2006-01/02") + "/reads"
		}
		files[key] = append(files[key], x)
	}
	remarks, again, tail, fixed := c.IntN(4) == 0, c.IntN(5) == 0, c.IntN(5) == 0, c.IntN(5) == 0
	header := c.IntN(4) > 0 || how == "lines above"
	above, tests := c.IntN(3), c.IntN(3) == 0
	book := excelize.NewFile()
	ending := []string{".csv", ".txt", ".log", ".dat"}[c.IntN(4)]
	for key, reads := range files {
		var rows [][]string
		if header {
			rows = append(rows, slices.Clone(columns))
		}
		for n, x := range reads {
			rows = append(rows, cells(n, x))
			if tests && n%30 == 7 {
				x.tag = "999000000000123"
				rows = append(rows, cells(n, x))
			}
		}
		if how == "sheets" {
			var all [][]any
			for _, row := range rows {
				all = append(all, anys(row))
			}
			c.sheet(book, key, all)
			continue
		}
		var lines []string
		if header {
			for i := range above {
				lines = append(lines, []string{"Reader no. 7", "firmware 2.1; ok"}[i])
			}
		}
		if how == "lines above" {
			lines = append(lines, l.site+": "+key)
		}
		for i, row := range rows {
			if remarks && i%40 == 9 {
				lines = append(lines, "# seen to")
			}
			if again && header && i%50 == 49 {
				lines = append(lines, w.quote(slices.Clone(columns)))
			}
			line := w.quote(row)
			if fixed {
				line = inWidths(row)
			} else if tail {
				line += w.delimiter
			}
			lines = append(lines, line)
		}
		name := key
		switch how {
		case "folders":
			name = key + "/export"
		case "lines above":
			name = fmt.Sprint("export", slices.Index(c.sites, key))
		case "file names":
			name = []string{"", "2025 "}[c.IntN(2)] + key
		}
		c.file(name+ending, encodable(w.enc, lines), w.end, lines)
	}
	if how == "sheets" {
		c.save(book, "readers.xlsx")
	}
}

// Stations put together at random, whose headings may say nothing, give their
// histories with no edit.
func TestAnyStation(t *testing.T) {
	stations := 60
	from := 0
	if n, err := strconv.Atoi(os.Getenv("STATIONS_FROM")); err == nil {
		from = n
	}
	if testing.Short() {
		stations = 3
	}
	for seed := from; seed < from+stations; seed++ {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			c := newCrew(t, uint64(1000+seed), hollin...)
			c.Rand = rand.New(rand.NewPCG(uint64(seed), 31))
			l, how := tongues[c.IntN(len(tongues))], kept[c.IntN(len(kept))]
			if how == "lines above" && l.site == "c9" {
				l.site = "Site"
			}
			c.writeFish(l)
			c.writeReads(l, how)
			p, res, err := c.read()
			study := ""
			if p != nil {
				study = p.Study
			}
			require.NoError(t, err, "%s %s", how, study)
			wrong := differences(c.truth(false), says(res.Histories))
			require.Empty(t, wrong[:min(2, len(wrong))], "%s: %d wrong\n%+v\n%s", how, len(wrong), res.Accounting, study)
		})
	}
}
