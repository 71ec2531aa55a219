package propose

import (
	"slices"
	"strings"
	"unicode"
)

// Headings are hints only, and of several languages; what a column does weighs
// more.
var (
	siteWords = []string{"site", "station", "locat", "array", "place", "standort", "stelle", "lieu", "sitio", "estaci", "stazion",
		"lugar", "stasjon", "sted", "plats", "lokal", "stanowisk", "punto", "ponto", "punkt", "paikka", "asema", "ort", "where", "estaç", "posto", "poste", "luogo", "local", "stacja",
		"место", "станц", "пункт", "створ", "地点", "場所", "観測", "locatie", "plaats", "weir", "wehr"}
	coilWords   = []string{"anten", "coil", "loop", "head", "ant", "антен", "アンテナ", "bobin", "spule", "spole", "channel", "kanal", "canal", "port"}
	deviceWords = []string{"reader", "lecteur", "lector", "leser", "lezer", "czytnik", "lukija", "läsare", "læser", "lettore", "leitor"}
	// A reader alone is one antenna of a site, or has several.
	antennaWords = slices.Concat(coilWords, deviceWords)
)

// hinted tells whether a heading holds one of the words, a short one as a word of
// its own.
func hinted(name string, words []string) bool {
	name = strings.ToLower(name)
	parts := strings.FieldsFunc(name, func(r rune) bool { return !unicode.IsLetter(r) })
	return slices.ContainsFunc(words, func(w string) bool {
		return name == w || (len(w) > 3 || !isASCII(w)) && strings.Contains(name, w) || slices.Contains(parts, w)
	})
}

func isASCII(s string) bool {
	return strings.IndexFunc(s, func(r rune) bool { return r > unicode.MaxASCII }) < 0
}

// Headings that tell times apart, in the languages of most crews. They are hints
// only.
var (
	timeWords = []string{"time", "date", "datum", "zeit", "tid", "fecha", "hora", "heure", "data", "czas", "aika", "pvm", "päivä", "dato", "klok",
		"дата", "время", "日", "時", "when", "uhr", "ora", "giorno", "jour", "día", "dia"}
	clockWords = []string{"time", "zeit", "uhr", "tid", "klok", "kl", "kl.", "heure", "hora", "ora", "orario", "czas", "godz", "aika", "klo", "klo.",
		"время", "час", "時", "hour", "clock", "tijd", "uur",
		"čas", "ura", "vrijeme", "vreme", "laikas", "laiks", "kell", "kellaaeg", "idő", "saat", "tími", "klukkan", "година", "시간", "시각"}
	releaseWords = []string{"releas", "let go", "laid out", "freila", "freil", "aussetz", "ausgesetz", "besatz", "entlass", "relâch", "relach", "lâch",
		"remise", "mise à l", "suelta", "soltado", "solta", "soltura", "libera", "liberta", "rilasc", "immiss", "utsätt", "utsatt", "utsett", "satt ut", "släpp",
		"slipp", "slupp", "frigi", "udsat", "udsæt", "genudsat", "vapau", "istut", "wypuszcz", "uwoln", "zarybi", "выпуск", "выпущ", "отпущ", "放流", "uitgezet", "uitzet", "losgelaten", "vrijgelaten"}
	// Times of what is no passage and no release.
	asideWords = []string{"download", "upload", "export", "import", "sync", "receiv", "server", "stored", "saved", "archiv", "ausgelesen", "auslese", "abruf", "abgerufen",
		"hochgeladen", "télécharg", "telecharg", "descarg", "letto", "scaric", "lastet", "nedlast", "hämt", "hentet", "lataus", "ladattu", "purettu", "pobran",
		"wgran", "odczyt da", "выгруз", "загруз", "取込", "取得", "ダウンロード", "battery", "servic", "check", "kontroll", "birth", "born", "hatch", "enter", "erfasst", "eingabe", "saisie", "caught", "capture",
		"captur", "fang", "fang", "pêche", "pesca", "fångst", "tagged", "marked", "markier", "marquage", "marcado", "marca", "merket", "merking", "märkt", "mærk", "merkintä", "znakow", "марк", "мечен", "poimi", "kiinni",
		"measur", "gemessen", "weigh", "upload", "last", "letzte", "dernier", "ultim", "úl", "siste", "sista"}
)

// Headings of what is measured of fish, and of what readers tell of themselves.
var (
	fishWords = []string{"length", "weight", "species", "cohort", "removed", "länge", "laenge", "gewicht", "fischart", "longueur", "poids", "espèce", "largo", "longitud", "peso",
		"especie", "lunghezza", "specie", "lengde", "vekt", "længde", "vægt", "längd", "vikt", "pituus", "paino", "długo", "masa", "waga", "gatunek", "comprimento", "espécie",
		"длина", "масса", "вес", "体長", "体重", "lengte", "soort", "fl", "tl", "fl_mm", "fl (mm)"}
	readerWords = []string{"reader", "array", "volt", "batter", "batt", "signal", "rssi", "temp", "serial", "firmware", "record", "sequence", "seq", "array", "spann", "akku"}
)

// tagWords are headings of tags.
var tagWords = []string{"tag", "code", "transponder", "pit", "puce", "marque", "marca", "merke", "mærke", "märke", "merkki", "znaczn", "znacz", "código", "codice", "chip", "čip", "метк", "タグ", "標識"}

var (
	weightWords = []string{"weight", "gewicht", "poids", "peso", "vekt", "vægt", "vikt", "paino", "masa", "waga", "масса", "вес", "体重", "mass"}
	lengthWords = []string{"length", "länge", "laenge", "longueur", "largo", "longitud", "lunghezza", "lengde", "længde", "längd", "pituus", "długo", "comprimento", "длина", "体長", "lengte", "fl", "tl"}
)

var kmWords = []string{"km", "rkm", "kilomet", "distance", "entfernung", "avstand", "afstand", "distancia", "distância", "distanza", "etäisyys", "odległo", "расстоян", "距離"}

// removedWords are headings of where, or when, fish were taken out.
var removedWords = []string{"remov", "taken out", "take out", "killed", "sacrific", "collected", "transported", "entnomm", "entnahme", "getöt", "abgetöt", "retir", "prélev", "sacrifi",
	"prelev", "fjern", "aflivet", "avliv", "uttag", "udtag", "poistet", "lopetet", "usunię", "uśmierc", "изъят", "verwijder"}

// trapWords are of places where fish are caught and let go.
var trapWords = []string{"trap", "falle", "fälla", "felle", "fælde", "trampa", "trappola", "armadilha", "piège", "nasse", "rysä", "pułapk", "ловуш", "hatchery"}
