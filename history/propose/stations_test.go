package propose_test

import (
	"fmt"
	"sort"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/encoding/unicode/utf32"
)

// fieldStation is a crew with its way to keep tables. asks is what the proposal
// must ask, "" where nothing in particular.
type fieldStation struct {
	name    string
	sites   []string
	minutes bool // times without seconds
	write   func(c *crew)
	asks    string
	says    string // what the study must say
}

var hollin = []string{"Alder Ford", "Scar Weir", "Tidehead"}

var fieldStations = []fieldStation{
	{name: "German sheet of Windows-1252, semicolons, decimal commas, units, total; one array file", sites: []string{"Mühlwehr", "Scharte", "Mündung"},
		says: `tag = "Transponder", released = { join = ["Freilassung Datum", "Freilassung Uhrzeit"] }`,
		write: func(c *crew) {
			lines := []string{"Markierung Hollin Water 2025;;;;;;;", "Nr;Transponder;Länge;Gewicht;Freilassung Datum;Freilassung Uhrzeit;Bearb.;Bemerkung", ";;mm;g;TT.MM.JJJJ;hh:mm;;"}
			for i, f := range c.fish {
				lines = append(lines, fmt.Sprintf("%d;%s;%s;%s;%s;%s;%s;", i+1, f.tag, comma(f.length), comma(f.weight), f.released.Format("02.01.2006"), f.released.Format("15:04"), []string{"KM", "JB"}[c.IntN(2)]))
			}
			lines = append(lines, "91;;120,5;17,2;19.04.2025;21:00;KM;Sender verloren", fmt.Sprintf("Summe;%d;;1.234,5;;;;", len(c.fish)))
			c.file("Markierung.csv", charmap.Windows1252, "\r\n", lines)
			lines = []string{"Datum;Uhrzeit;Gerät;Messstelle;Transponder;Signalstärke"}
			for _, x := range c.reads {
				lines = append(lines, fmt.Sprintf("%s;%s;%d;%s;%s;%s", x.at.Format("02.01.2006"), x.at.Format("15:04:05"), x.antenna+1, c.sites[x.site], x.tag, comma(40+10*c.Float64())))
			}
			c.file("Lesungen.csv", charmap.Windows1252, "\r\n", lines)
		}},
	{name: "French, UTF-16, tabs, one reader one file, lines above the header", sites: hollin, says: `released = "Date de lâcher"`,
		write: func(c *crew) {
			lines := []string{"Puce\tEspèce\tLongueur (mm)\tDate de capture\tDate de lâcher"}
			for _, f := range c.fish {
				lines = append(lines, strings.Join([]string{f.tag, "truite", comma(f.length), f.released.Add(-30 * time.Hour).Format("02/01/2006 15h04"), f.released.Format("02/01/2006 15h04")}, "\t"))
			}
			c.file("marquage.txt", unicode.UTF16(unicode.LittleEndian, unicode.UseBOM), "\r\n", lines)
			for k, site := range c.sites {
				lines = []string{"Lecteur no " + fmt.Sprint(7+k), "Tension\t12,4 V", "", "Date\tHeure\tPuce\tNo"}
				for n, x := range c.at(k) {
					lines = append(lines, strings.Join([]string{x.at.Format("02/01/2006"), x.at.Format("15:04:05"), x.tag, fmt.Sprint(n + 1)}, "\t"))
				}
				c.file("lecteur "+site+".txt", unicode.UTF16(unicode.LittleEndian, unicode.UseBOM), "\r\n", lines)
			}
		}},
	{name: "Norwegian logs without a header in folders of the sites, fixed width, no .csv at all", sites: hollin,
		write: func(c *crew) {
			lines := []string{"Merke|Lengde|Vekt|Utsatt"}
			for _, f := range c.fish {
				lines = append(lines, fmt.Sprintf("%s|%s|%s|%s", f.tag, comma(f.length), comma(f.weight), f.released.Format("2.1.2006 15.04")))
			}
			c.file("merking.psv", nil, "\n", lines)
			for k, site := range c.sites {
				lines = nil
				for _, x := range c.at(k) {
					lines = append(lines, fmt.Sprintf("D %s %s  %s  A%d  %4d", x.at.Format("2006-01-02"), x.at.Format("15:04:05.000"), c.hex(x.tag, "."), x.antenna+1, c.IntN(3000)))
				}
				c.file(site+"/leser.log", nil, "\r\n", lines)
			}
		}},
	{name: "Polish workbook with a sheet for each site, rows above the header, dates and times of Excel, merged headings", sites: hollin,
		says: `released = { join = ["Wypuszczenie Data", "Wypuszczenie Godzina"] }`,
		write: func(c *crew) {
			f := excelize.NewFile()
			rows := [][]any{{"Znakowanie 2025"}, {"Nr", "Znaczek", "Pomiar", nil, "Wypuszczenie", nil}, {nil, nil, "Długość", "Masa", "Data", "Godzina"}}
			for i, x := range c.fish {
				day := x.released.Truncate(24 * time.Hour)
				rows = append(rows, []any{i + 1, x.tag, x.length, x.weight, day, x.released.Sub(day)})
			}
			c.sheet(f, "Ryby", rows)
			require.NoError(c.t, f.MergeCell("Ryby", "C2", "D2"))
			require.NoError(c.t, f.MergeCell("Ryby", "E2", "F2"))
			for k, site := range c.sites {
				rows = [][]any{{"Czytnik", k + 1}, {}, {"Data", "Godzina", "Kod", "Antena"}}
				for _, x := range c.at(k) {
					day := x.at.Truncate(24 * time.Hour)
					rows = append(rows, []any{day, x.at.Sub(day), x.tag, x.antenna + 1})
				}
				c.sheet(f, site, rows)
			}
			c.save(f, "Hollin.xlsx")
		}},
	{name: "Spanish, line ends of old Macs, p. m., initials before the place", sites: hollin,
		write: func(c *crew) {
			lines := []string{"Código,Fecha de suelta,Talla"}
			for _, f := range c.fish {
				lines = append(lines, fmt.Sprintf("%s,%s,%.1f", f.tag, spanish(f.released), f.length))
			}
			c.file("sueltas.csv", charmap.Windows1252, "\r", lines)
			lines = []string{"Obs,Estación,Antena,Fecha y hora,Código,Batería"}
			for _, x := range c.reads {
				lines = append(lines, fmt.Sprintf("%s,%s,%d,%s,%s,%.2f", []string{"ABC", "LT", "MR"}[c.IntN(3)], c.sites[x.site], x.antenna+1, spanish(x.at), x.tag, 11+c.Float64()))
			}
			c.file("lecturas.csv", charmap.Windows1252, "\r", lines)
		}},
	{name: "Swedish daily files in nested folders, some records in two of them", sites: hollin,
		write: func(c *crew) {
			lines := []string{"Märke;Utsatt;Längd"}
			for _, f := range c.fish {
				lines = append(lines, f.tag+";"+f.released.Format("2006-01-02 15:04")+";"+comma(f.length))
			}
			c.file("fisk.csv", unicode.UTF8BOM, "\n", lines)
			days := map[string][]string{}
			for n, x := range c.reads {
				line := fmt.Sprintf("%s;%s;%s;%d", x.at.Format("2006-01-02 15:04:05"), x.tag, c.sites[x.site], x.antenna+1)
				days[x.at.Format("2006-01-02")] = append(days[x.at.Format("2006-01-02")], line)
				if n%13 == 0 {
					day := x.at.AddDate(0, 0, 1).Format("2006-01-02")
					days[day] = append(days[day], line)
					c.twice++
				}
			}
			for day, lines := range days {
				c.file("läsningar/"+day[:7]+"/"+day+".csv", nil, "\n", append([]string{"Tid;Märke;Plats;Antenn"}, lines...))
			}
		}},
	{name: "Danish, hexadecimal with dots, times with a point apart, two tags", sites: hollin, minutes: true,
		write: func(c *crew) {
			lines := []string{"Mærke 1;Mærke 2;Udsat dato;kl.;Længde"}
			for _, f := range c.fish {
				second := ""
				if f.second != "" {
					second = c.hex(f.second, ".")
				}
				lines = append(lines, strings.Join([]string{f.tag, second, f.released.Format("02-01-2006"), f.released.Format("15.04"), comma(f.length)}, ";"))
			}
			c.file("udsætning.csv", nil, "\r\n", lines)
			lines = []string{"dato;kl.;sted;mærke"}
			for n, x := range c.reads {
				tag := x.tag
				if second := c.fish[x.fish].second; second != "" && n%2 == 0 {
					tag = second
				}
				lines = append(lines, strings.Join([]string{x.at.Format("02-01-2006"), x.at.Format("15.04"), c.sites[x.site], c.hex(tag, ".")}, ";"))
			}
			c.file("aflæsninger.csv", nil, "\r\n", lines)
		}},
	{name: "Finnish, a preamble that names the site, day order open, download time", sites: hollin,
		write: func(c *crew) {
			lines := []string{"Merkki;Vapautettu;Pituus mm"}
			for _, f := range c.fish {
				lines = append(lines, f.tag+";"+f.released.Format("2.1.2006 15.04")+";"+comma(f.length))
			}
			c.file("merkinnät.csv", charmap.Windows1252, "\n", lines)
			for k, site := range c.sites {
				lines = []string{"Asema: " + site, "Lukija: 00" + fmt.Sprint(41*k+12), "Ladattu;aika;merkki;antenni"}
				for n, x := range c.at(k) {
					down := time.Date(2025, 5, 1+n/40, 9, k, 0, 0, time.UTC)
					lines = append(lines, strings.Join([]string{down.Format("2.1.2006 15.04.05"), x.at.Format("2.1.2006 15.04.05"), x.tag, fmt.Sprint(x.antenna + 1)}, ";"))
				}
				c.file(fmt.Sprintf("lataus%d.csv", k+1), nil, "\r\n", lines)
			}
		}},
	{name: "Russian headings, the site in the file's name, months in words", sites: hollin,
		write: func(c *crew) {
			lines := []string{"Метка;Дата выпуска;Длина, мм"}
			for _, f := range c.fish {
				lines = append(lines, f.tag+";"+russian(f.released)+";"+comma(f.length))
			}
			c.file("выпуск.csv", nil, "\r\n", lines)
			for k, site := range c.sites {
				lines = []string{"№;Время;Метка"}
				for n, x := range c.at(k) {
					lines = append(lines, fmt.Sprintf("%d;%s;%s", n+1, russian(x.at), x.tag))
				}
				c.file(strings.ReplaceAll(site, " ", "_")+"_2025-05.csv", nil, "\r\n", lines)
			}
		}},
	{name: "Japanese dates and headings", sites: []string{"上流", "堰", "河口"},
		write: func(c *crew) {
			lines := []string{"タグ,放流日時,体長"}
			for _, f := range c.fish {
				lines = append(lines, f.tag+","+f.released.Format("2006年1月2日 15:04")+fmt.Sprintf(",%.1f", f.length))
			}
			c.file("放流.csv", nil, "\n", lines)
			lines = []string{"日付,時刻,地点,タグ,電圧"}
			for _, x := range c.reads {
				lines = append(lines, fmt.Sprintf("%s,%s,%s,%s,%.1f", x.at.Format("2006年01月02日"), x.at.Format("15時04分05秒"), c.sites[x.site], x.tag, 12+c.Float64()))
			}
			c.file("検出.csv", nil, "\n", lines)
		}},
	{name: "Italian, parted by blanks, months in letters", sites: []string{"Guado", "Chiusa", "Foce"},
		write: func(c *crew) {
			month := strings.NewReplacer("Apr", "apr", "May", "mag")
			lines := []string{"codice\trilascio\tlunghezza"}
			for _, f := range c.fish {
				lines = append(lines, f.tag+"\t"+month.Replace(f.released.Format("02-Jan-2006 15:04"))+"\t"+comma(f.length))
			}
			c.file("pesci.tsv", nil, "\n", lines)
			lines = []string{"data ora codice luogo"}
			for _, x := range c.reads {
				lines = append(lines, fmt.Sprintf("%s %s %s %s", month.Replace(x.at.Format("02-Jan-2006")), x.at.Format("15:04:05"), c.hex(x.tag, "."), c.sites[x.site]))
			}
			c.file("letture.dat", nil, "\n", lines)
		}},
	{name: "month first, AM and PM, comments, tests, reader serials, a bystander", sites: hollin,
		write: func(c *crew) {
			lines := []string{"Tag Code,Release Site,Release Time,Fork Length (mm),Weight (g),Tagger"}
			for _, f := range c.fish {
				lines = append(lines, fmt.Sprintf("%s,Mill Lade,%s,%.1f,%.1f,%s", f.tag, f.released.Format("1/2/2006 3:04 PM"), f.length, f.weight, []string{"AB", "CD"}[c.IntN(2)]))
			}
			c.file("tagging.csv", nil, "\n", lines)
			serial := []string{"10442", "10457", "10461"}
			lines = []string{"# exported by the office", "# 3 readers", "Downloaded,Serial,Detected,Location,Tag,Volts"}
			for n, x := range c.reads {
				down := x.at.Truncate(168 * time.Hour).Add(176 * time.Hour)
				lines = append(lines, strings.Join([]string{down.Format("1/2/2006 3:04 PM"), serial[x.site], x.at.Format("1/2/2006 3:04:05 PM"), c.sites[x.site], x.tag, "12.1"}, ","))
				if n%20 == 0 {
					lines = append(lines, strings.Join([]string{down.Format("1/2/2006 3:04 PM"), serial[x.site], x.at.Format("1/2/2006 3:04:05 PM"), c.sites[x.site], "999000000000017", "12.1"}, ","))
				}
				if n%50 == 0 {
					lines = append(lines, "# serviced")
				}
			}
			c.file("detections.csv", nil, "\n", lines)
			c.file("flow.csv", nil, "\n", []string{"day,flow", "2025-04-10,3.5", "2025-04-11,3.9"})
		}},
	{name: "seconds since 1970, bars, site codes that match a table of sites", sites: hollin,
		write: func(c *crew) {
			lines := []string{"id|tag|released_at|len"}
			for i, f := range c.fish {
				lines = append(lines, fmt.Sprintf("%d|%s|%d|%.1f", i+1, f.tag, f.released.Unix(), f.length))
			}
			c.file("fish.psv", nil, "\n", lines)
			lines = []string{"seq|crew|p|epoch|rssi|code"}
			for n, x := range c.reads {
				lines = append(lines, fmt.Sprintf("%d|%s|%s|%d|-%d|%s", n+1, []string{"north", "south"}[x.site%2], c.sites[x.site], x.at.Unix(), 40+c.IntN(40), x.tag))
			}
			c.file("reads.psv", nil, "\n", lines)
			c.file("sites.psv", nil, "\n", []string{"site|km", "Mill Lade|58", "Alder Ford|36.6", "Scar Weir|14.2", "Tidehead|0"})
		}},
	{name: "no header, years of two digits, columns in an order of their own", sites: []string{"AF", "SW", "TH"},
		write: func(c *crew) {
			var lines []string
			for i, f := range c.fish {
				lines = append(lines, fmt.Sprintf("%d,%s,%.1f,%s", i+1, f.released.Format("02/01/06 15:04"), f.length, f.tag))
			}
			c.file("fish.csv", nil, "\n", lines)
			lines = nil
			for _, x := range c.reads {
				lines = append(lines, strings.Join([]string{c.sites[x.site], fmt.Sprint(x.antenna + 1), x.tag, x.at.Format("02/01/06"), x.at.Format("15:04:05"), fmt.Sprint(c.IntN(90))}, ","))
			}
			c.file("reads.csv", nil, "\n", lines)
		}},
	{name: "Portuguese, files put together with their headers, delimiters at the ends, thousands", sites: hollin,
		write: func(c *crew) {
			lines := []string{"Marca;Libertado em;Comprimento;Peso (mg);"}
			for _, f := range c.fish {
				lines = append(lines, fmt.Sprintf("%s;%s;%s;%d.%03d,0;", f.tag, f.released.Format("02/01/2006 15:04"), comma(f.length), int(f.weight), c.IntN(1000)))
			}
			c.file("marcação.csv", charmap.Windows1252, "\r\n", lines)
			lines = nil
			for n, x := range c.reads {
				if n%100 == 0 {
					lines = append(lines, "Hora;Marca;Local;Antena;")
				}
				lines = append(lines, fmt.Sprintf("%s;%s;%s;%d;", x.at.Format("02/01/2006 15:04:05"), x.tag, c.sites[x.site], x.antenna+1))
			}
			c.file("leituras.csv", charmap.Windows1252, "\r\n", lines)
		}},
	{name: "UTF-32, a bar in the codes, fixed width with a header, places with blanks", sites: hollin,
		write: func(c *crew) {
			lines := []string{"PIT;released;length"}
			for _, f := range c.fish {
				lines = append(lines, c.hex(f.tag, "/")+";"+f.released.Format("2006-01-02 15:04")+";"+comma(f.length))
			}
			c.file("fish.csv", utf32.UTF32(utf32.BigEndian, utf32.UseBOM), "\n", lines)
			lines = []string{fmt.Sprintf("%-12s %-19s %-15s %5s", "Station", "When", "Code", "Volt")}
			for _, x := range c.reads {
				lines = append(lines, fmt.Sprintf("%-12s %-19s %-15s %5.1f", c.sites[x.site], x.at.Format("2006-01-02 15:04:05"), c.hex(x.tag, "/"), 11+c.Float64()))
			}
			c.file("reads.txt", utf32.UTF32(utf32.LittleEndian, utf32.UseBOM), "\n", lines)
		}},
	{name: "columns flush right, a rule below the header, a last line, the site's name with a blank above the header alone", sites: hollin,
		write: func(c *crew) {
			lines := []string{"Código,Suelta,Talla"}
			for _, f := range c.fish {
				lines = append(lines, fmt.Sprintf("%s %s,%s,%.1f", f.tag[:3], f.tag[3:], f.released.Format("2006-01-02"), f.length))
			}
			c.file("peces.csv", nil, "\n", lines)
			for k, site := range c.sites {
				lines = []string{"Station " + site, "", fmt.Sprintf("%6s %10s %8s %18s %6s", "No", "Date", "Time", "Tag", "mV"), strings.Repeat("-", 52)}
				for n, x := range c.at(k) {
					lines = append(lines, fmt.Sprintf("%6d %10s %8s %18s %6.1f", n+1, x.at.Format("2.1.2006"), x.at.Format("15:04:05"), x.tag, 9+900*c.Float64()))
				}
				c.file(strings.ReplaceAll(site, " ", "")+"/out.prn", nil, "\r\n", append(lines, "", "total 200 reads"))
			}
		},
		asks: "have a date alone"},
	{name: "two dates and two times of the same headings, the second those of the download", sites: hollin,
		write: func(c *crew) {
			lines := []string{"Kode;Sluppet;Lengde"}
			for _, f := range c.fish {
				lines = append(lines, f.tag+";"+f.released.Format("02.01.2006 15:04")+";"+comma(f.length))
			}
			c.file("fisk.csv", nil, "\n", lines)
			for k, site := range c.sites {
				lines = []string{"Dato,Tid,Kode,Dato,Tid,Volt"}
				for _, x := range c.at(k) {
					down := x.at.Truncate(96 * time.Hour).Add(98 * time.Hour)
					lines = append(lines, fmt.Sprintf("%s,%s,%s,%s,%s,12.%d", x.at.Format("02.01.2006"), x.at.Format("15:04:05"), x.tag, down.Format("02.01.2006"), down.Format("15:04"), x.at.Second()%10))
				}
				c.file(site+".csv", nil, "\n", lines)
			}
		}},
	{name: "everything in quotes, a file a month, antennas with names of their own", sites: hollin,
		write: func(c *crew) {
			lines := []string{`"Zender";"Uitgezet op";"Lengte";"Soort"`}
			for _, f := range c.fish {
				lines = append(lines, fmt.Sprintf(`"%s";"%s";"%s";"zeeforel"`, f.tag, f.released.Format("2-1-2006 15:04"), comma(f.length)))
			}
			c.file("merken.csv", nil, "\r\n", lines)
			months := map[string][]string{}
			for _, x := range c.reads {
				m := x.at.Format("2006-01")
				months[m] = append(months[m], fmt.Sprintf(`"%s";"%s";"%s-%d";"%s"`, x.tag, x.at.Format("2-1-2006 15:04:05"), c.sites[x.site][:1], x.antenna+1, c.sites[x.site]))
			}
			for m, lines := range months {
				c.file("lezingen "+m+".csv", nil, "\r\n", append([]string{`"Zender";"Tijd";"Antenne";"Locatie"`}, lines...))
			}
		}},
	{name: "readers of three makes, one of them on winter time", sites: []string{"alder ford", "scar weir", "tidehead"},
		write: func(c *crew) {
			lines := []string{"tag,released,length_mm"}
			for _, f := range c.fish {
				lines = append(lines, fmt.Sprintf("%s,%s,%.1f", f.tag, f.released.Format("2006-01-02 15:04"), f.length))
			}
			c.file("fish.csv", nil, "\n", lines)
			lines = []string{"Reader;north", "Firmware;2.1", "Date;Time;Tag;Antenna"}
			for _, x := range c.at(0) {
				lines = append(lines, fmt.Sprintf("%s;%s;%s;%d", x.at.Format("02.01.2006"), x.at.Format("15:04:05"), x.tag, x.antenna+1))
			}
			c.file("alder ford/export.csv", nil, "\r\n", lines)
			lines = nil
			for _, x := range c.at(1) {
				lines = append(lines, c.hex(x.tag, " ")+"\t"+x.at.Format("2006-01-02T15:04:05"))
			}
			c.file("scar weir/20250601.txt", nil, "\n", lines)
			f := excelize.NewFile()
			rows := [][]any{{"Read at", "PIT tag", "Ant"}}
			for _, x := range c.at(2) {
				rows = append(rows, []any{x.at, x.tag, x.antenna + 1})
			}
			c.sheet(f, "Detections", rows)
			c.sheet(f, "Notes", [][]any{{"clock", "winter time"}})
			c.save(f, "tidehead.xlsx")
		},
		asks: "time_zone"},
	{name: "two crews, dates that could be month first in one of them", sites: hollin,
		write: func(c *crew) {
			c.fish = c.fish[:45]
			c.reads = c.reads[:0]
			for i := range c.fish {
				c.fish[i].released = time.Date(2025, 4, 2, 20, i, 0, 0, time.UTC)
				for k := range c.sites {
					if (i+k)%3 > 0 {
						c.reads = append(c.reads, swim{fish: i, site: k, tag: c.fish[i].tag, at: time.Date(2025, 4, 4+2*k+i%2, 3, i, 7, 0, time.UTC)})
					}
				}
			}
			sort.SliceStable(c.reads, func(i, k int) bool { return c.reads[i].at.Before(c.reads[k].at) })
			lines := []string{"tag,released,length_mm"}
			for _, f := range c.fish {
				lines = append(lines, fmt.Sprintf("%s,%s,%.1f", f.tag, f.released.Format("2006-01-02 15:04"), f.length))
			}
			c.file("fish.csv", nil, "\n", lines)
			lines = []string{"tag,site,time"}
			for _, x := range c.reads {
				lines = append(lines, fmt.Sprintf("%s,%s,%s", x.tag, c.sites[x.site], x.at.Format("01/02/2006 15:04:05")))
			}
			c.file("reads.csv", nil, "\n", lines)
		},
		asks: "month first"},
}

func spanish(t time.Time) string {
	return strings.NewReplacer("AM", "a. m.", "PM", "p. m.").Replace(t.Format("02/01/2006 3:04:05 PM"))
}

func russian(t time.Time) string {
	return strings.NewReplacer("Apr", "апр", "May", "мая").Replace(t.Format("2 Jan 2006 15:04:05"))
}

// A folder of a field station's own tables gives its histories with no edit.
func TestFieldStations(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	for n, s := range fieldStations {
		t.Run(s.name, func(t *testing.T) {
			c := newCrew(t, uint64(n), s.sites...)
			s.write(c)
			p, res, err := c.read()
			if p != nil && s.asks != "" {
				assert.Contains(t, strings.Join(p.Doubts, "\n"), s.asks)
			}
			study := ""
			if p != nil {
				study = p.Study
			}
			require.NoError(t, err, study)
			assert.Contains(t, study, s.says)
			wrong := differences(c.truth(s.minutes), says(res.Histories))
			require.Empty(t, wrong[:min(3, len(wrong))], "%d wrong\n%+v\n%s", len(wrong), res.Accounting, study)
			assert.EqualValues(t, len(c.reads)+c.twice, res.Accounting.Kept+res.Accounting.Repeats)
		})
	}
}

// differences are the fish of which two histories do not say the same.
func differences(want, got map[string]string) (out []string) {
	for tag, x := range want {
		if y, ok := got[tag]; !ok || x != y {
			out = append(out, tag+" is"+x+", not"+y)
		}
	}
	if len(got) > len(want) {
		out = append(out, fmt.Sprintf("%d fish, not %d", len(want), len(got)))
	}
	sort.Strings(out)
	return out
}
