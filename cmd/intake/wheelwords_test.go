package intake

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Headings as people write them, in five languages.
func TestTheHeadingsOfTablesOfWheelsAreKnown(t *testing.T) {
	for _, c := range []struct{ headings, fields string }{
		{"Wheel no.|Cheese|Lot|Make date|Location|Green wt (kg)|Current weight kg|Date weighed|Remarks",
			"tag|variety|lot|made|place|green weight|weight|date weighed|note"},
		{"Tag|Type of cheese|Supplier|Supplier's lot|Delivery note no.|Date of arrival|" +
			"Weight on arrival (g)|Temp °C|Price/kg",
			"tag|variety|supplier|supplier lot|document|arrived|arrival weight|temperature|price"},
		{"ID|Kind|Bought from|Made by|Batch|Received on|Milk|Milk treatment|Coating|Coated on|Last turned|" +
			"Last brushed|Washed on",
			"tag|variety|supplier|maker|lot|arrived|milk|treatment|coat|coated|last turn|last brush|last wash"},
		{"N° meule|Fromage|Fournisseur|N° de lot|Bon de livraison|Date d'arrivée|Poids à l'arrivée (kg)|" +
			"Prix au kg|Emplacement",
			"tag|variety|supplier|lot|document|arrived|arrival weight|price|place"},
		{"Numéro|Nom du fromage|Producteur|Lot fournisseur|Date de fabrication|Date de réception|" +
			"Poids initial|Poids actuel",
			"tag|variety|supplier|supplier lot|made|arrived|green weight|weight"},
		{"Meule|Type de lait|Traitement du lait|Enrobage|Ciré le|Pesé le|Dernier retournement|Brossé le|" +
			"Lavé le|Frotté le|Rayon",
			"tag|milk|treatment|coat|coated|date weighed|last turn|last brush|last wash|last rub|place"},
		{"Date d’arrivée|Étiquette|Température à l’arrivée|Prix (€/kg)", "arrived|tag|temperature|price"},
		{"Laib-Nr.|Käsesorte|Lieferant|Chargennummer|Lieferschein-Nr.|Eingangsdatum|Eingangsgewicht [kg]|Kerntemperatur",
			"tag|variety|supplier|lot|document|arrived|arrival weight|temperature"},
		{"Käse-Nr.|Käse|Käserei|Hersteller-Charge|Herstellungsdatum|Wareneingang|Gewicht bei Ankunft|Preis EUR/kg|Lagerort",
			"tag|variety|supplier|supplier lot|made|arrived|arrival weight|price|place"},
		{"Nummer|Milchart|Milchbehandlung|Überzug|Gewachst am|Zuletzt gewendet|Gebürstet am|Gewaschen am|" +
			"Geschmiert am|Frischgewicht",
			"tag|milk|treatment|coat|coated|last turn|last brush|last wash|last rub|green weight"},
		{"N. forma|Formaggio|Fornitore|Lotto fornitore|D.D.T. n.|Data di arrivo|Peso all'arrivo (kg)|" +
			"Temperatura|Prezzo al kg",
			"tag|variety|supplier|supplier lot||arrived|arrival weight|temperature|price"},
		{"Etichetta|Tipo di formaggio|Caseificio|Lotto|DDT|Data di produzione|Ricevuto il|Peso attuale|Pesato il|Scaffale",
			"tag|variety|supplier|lot|document|made|arrived|weight|date weighed|place"},
		{"Forma|Tipo di latte|Trattamento del latte|Rivestimento|Cerato il|Girato il|Spazzolato il|" +
			"Lavato il|Peso iniziale|Note",
			"tag|milk|treatment|coat|coated|last turn|last brush|last wash|green weight|note"},
		{"N.º de queso|Queso|Proveedor|Lote del proveedor|N.º de albarán|Fecha de llegada|" +
			"Peso a la llegada (kg)|Precio por kg",
			"tag|variety|supplier|supplier lot|document|arrived|arrival weight|price"},
		{"Pieza|Tipo de queso|Quesería|Lote|Factura|Fecha de elaboración|Fecha de recepción|Peso actual|" +
			"Pesado el|Ubicación",
			"tag|variety|supplier|lot|document|made|arrived|weight|date weighed|place"},
		{"Etiqueta|Tipo de leche|Tratamiento de la leche|Recubrimiento|Encerado el|Volteado el|" +
			"Cepillado el|Lavado el|Observaciones",
			"tag|milk|treatment|coat|coated|last turn|last brush|last wash|note"},
		{"Fromage|Poids (kg)|Date", "tag|weight|date weighed"}, // nothing else names the wheel
		{"Queso|Tipo de queso|Peso kg|Fecha de pesada", "tag|variety|weight|date weighed"},
	} {
		heads := strings.Split(c.headings, "|")
		tb, _, err := Wheels(sheetOf(c.headings+"\n"+strings.Repeat("|", len(heads)-1)+"x"), How{})
		if err != nil {
			t.Errorf("%s: %v", c.headings, err)
			continue
		}
		got := make([]string, len(heads))
		for _, m := range tb.Columns {
			got[m.Column-1] = m.Field
		}
		if d := cmp.Diff(strings.Split(c.fields, "|"), got); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.headings, d)
		}
	}
}

// A heading means one field, whatever the order of the lists.
func TestNoHeadingMeansTwoThings(t *testing.T) {
	for name, list := range map[string]map[string]string{"wheels": wheelHeadings, "all": common} {
		seen := map[string]string{}
		for field, keys := range list {
			for _, k := range strings.Fields(keys) {
				if was, twice := seen[k]; twice {
					t.Errorf("%s: %q is %s and %s", name, k, was, field)
				}
				if seen[k] = field; key(k) != k {
					t.Errorf("%s: %q can't be a heading's key; it's %q", name, k, key(k))
				}
			}
		}
	}
}

func TestCellsSayMilkCoatsAndPricesInFiveLanguages(t *testing.T) {
	const head = "Tag|Supplier|Milk|Coat|Price (€/kg)|Temp °F\n"
	for _, c := range []struct{ cells, species, treatment, coat, price, temp string }{
		{"A|F|raw cow's milk|Wax|11.40|43", "cow", "raw", "wax", "11.40 EUR", "43F"},
		{"A|F|Rohmilch|paraffiniert|11.40 CHF|", "", "raw", "wax", "11.40 CHF", ""},
		{"A|F|lait cru de brebis|Toile|€ 11.40|6C", "sheep", "raw", "cloth", "11.40 EUR", "6C"},
		{"A|F|latte di capra pastorizzato|crosta naturale||", "goat", "pasteurised", "", "", ""},
		{"A|F|leche de vaca|sin||", "cow", "", "", "", ""},
		{"A|F|yak|lacquer||", "yak", "", "lacquer", "", ""},
	} {
		tb, bad, err := Wheels(sheetOf(head+c.cells), How{})
		if err != nil || len(bad) > 0 || len(tb.Rows) != 1 {
			t.Errorf("%s: %v %v", c.cells, bad, err)
			continue
		}
		r := tb.Rows[0]
		got := []string{r.Milk, r.Treatment, r.Coat, r.Price, r.Temp}
		if d := cmp.Diff([]string{c.species, c.treatment, c.coat, c.price, c.temp}, got); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.cells, d)
		}
	}
}
