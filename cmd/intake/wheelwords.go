package intake

import "strings"

// wheelWords are the headings of a table of wheels.
var wheelWords = vocabulary(common, wheelHeadings)

var wheelHeadings = map[string]string{
	"tag": "id",
	"lot": "lot lot_code lot_no lot_number lot_id own_lot our_lot batch batch_no batch_number batch_code make " +
		"make_no vat vat_no no_lot numero_lot n_lot notre_lot fabrication charge chargen_nr charge_nr " +
		"chargennummer partie los los_nr losnummer eigene_charge lotto lotto_n n_lotto numero_lotto partita lote " +
		"n_lote numero_lote partida",
	"made": "made made_on make_date date_made produced produced_on production_date date_of_make manufactured " +
		"manufacture_date manufacturing_date fabrique fabrique_le date_fabrication fabrication_date production " +
		"date_production hergestellt hergestellt_am herstelldatum herstellungsdatum herstellung produktionsdatum " +
		"produziert_am kasedatum kaesedatum prodotto prodotto_il data_produzione produzione data_fabbricazione " +
		"data_lavorazione fecha_elaboracion elaborado elaborado_el elaboracion fecha_produccion produccion " +
		"fecha_fabricacion fabricado_el",
	"variety": "variety kind kind_of_cheese type cheese_type type_of_cheese cheese_name style recipe product " +
		"sorte kasesorte kaesesorte kasetyp kaesetyp art kaseart kaeseart produkt variete sorte_fromage " +
		"type_fromage nom_fromage produit tipo varieta tipo_formaggio nome_formaggio prodotto_nome variedad " +
		"tipo_queso producto clase",
	"place": "place location shelf position room where rack stored_in lieu emplacement etagere rayon cave local " +
		"ort lagerort platz lagerplatz standort regal regalplatz keller luogo scaffale ripiano cantina cella " +
		"posizione ubicazione lugar ubicacion estante estanteria cava bodega posicion",
	"green weight": "green green_weight green_wt start_weight start_wt starting_weight initial_weight " +
		"first_weight weight_at_make weight_make poids_initial poids_depart poids_frais poids_vert anfangsgewicht " +
		"startgewicht frischgewicht grungewicht ausgangsgewicht peso_iniziale peso_fresco peso_inicial",
	"date weighed": "date_weighed weighed weighed_on weighed_at weighing_date weight_date date last_weighed " +
		"pese_le pesee date_pesee date_poids jour gewogen gewogen_am wiegedatum wagedatum waegedatum datum " +
		"pesato_il pesatura data_pesata data_peso data_pesatura data pesado_el fecha_pesada fecha_peso " +
		"fecha_pesaje fecha",
	"supplier": "supplier supplied_by bought_from purchased_from vendor seller sender delivered_by from " +
		"received_from fournisseur fourni_par provenance vendeur achete_chez expediteur lieferant lieferbetrieb " +
		"geliefert_von gekauft_bei herkunft verkaufer fornitore fornito_da acquistato_da provenienza venditore " +
		"proveedor vendedor comprado_a procedencia",
	"maker": "maker made_by producer manufacturer dairy creamery cheesemaker farm producteur fabricant fromager " +
		"fromagerie laiterie ferme fabrique_par hersteller erzeuger kaserei kaeserei molkerei produzent " +
		"produttore caseificio casaro fabbricante prodotto_da productor fabricante queseria quesero elaborador " +
		"elaborado_por",
	"supplier lot": "supplier_lot supplier_s_lot supplier_lot_no supplier_lot_code suppliers_lot supplier_batch " +
		"vendor_lot maker_lot maker_s_lot makers_lot producer_lot their_lot their_batch lot_fournisseur " +
		"no_lot_fournisseur lot_producteur lot_fabricant lieferantencharge lieferanten_charge lieferantenlos " +
		"charge_lieferant los_lieferant chargennummer_lieferant herstellercharge hersteller_charge " +
		"charge_hersteller lotto_fornitore n_lotto_fornitore lotto_produttore lote_proveedor n_lote_proveedor " +
		"lote_productor lote_fabricante",
	"document": "document document_no document_number delivery_note delivery_note_no delivery_document " +
		"delivery_no dispatch_note packing_slip invoice invoice_no bon_livraison no_bon_livraison bl no_bl " +
		"bordereau facture no_facture lieferschein lieferschein_nr lieferscheinnummer ls_nr beleg beleg_nr " +
		"belegnummer rechnung rechnung_nr rechnungsnummer ddt n_ddt bolla bolla_n documento documento_n " +
		"n_documento documento_trasporto fattura n_fattura albaran n_albaran factura n_factura",
	"arrived": "arrived arrived_on arrival arrival_date date_arrived date_of_arrival received received_on " +
		"receipt receipt_date date_received received_date delivered delivered_on delivery delivery_date " +
		"date_delivery date_arrivee arrivee arrive_le recu recu_le reception date_reception livraison livre_le " +
		"date_livraison date_entree entree eingang eingangsdatum wareneingang zugang ankunft ankunftsdatum " +
		"angekommen angekommen_am erhalten erhalten_am lieferdatum geliefert geliefert_am lieferung arrivo " +
		"data_arrivo arrivato arrivato_il ricevuto ricevuto_il ricevimento data_ricevimento consegna " +
		"data_consegna consegnato_il data_ingresso ingresso entrata data_entrata llegada fecha_llegada llegado_el " +
		"recibido recibido_el recepcion fecha_recepcion entrega fecha_entrega entregado_el entrada fecha_entrada",
	"arrival weight": "arrival_weight arrival_wt weight_on_arrival weight_arrival weight_at_arrival " +
		"received_weight weight_received delivered_weight delivery_weight poids_arrivee poids_reception " +
		"poids_recu poids_livre poids_livraison eingangsgewicht ankunftsgewicht liefergewicht gewicht_bei_ankunft " +
		"gewicht_ankunft gewicht_eingang gewicht_bei_lieferung peso_arrivo peso_consegna peso_ricevuto " +
		"peso_ingresso peso_llegada peso_recibido peso_entrega peso_recepcion",
	"temperature": "temp temperature arrival_temp arrival_temperature temp_on_arrival temperature_on_arrival " +
		"core_temp core_temperature temperature_arrivee temperature_reception temp_arrivee temperatur " +
		"eingangstemperatur kerntemperatur liefertemperatur temperatura temperatura_arrivo " +
		"temperatura_ricevimento temperatura_llegada temperatura_recepcion",
	"price": "price price_per_kg price_kg unit_price cost cost_per_kg prix prix_kg prix_au_kg prix_par_kg " +
		"prix_unitaire preis preis_kg preis_je_kg preis_pro_kg kilopreis einkaufspreis stuckpreis prezzo " +
		"prezzo_kg prezzo_al_kg prezzo_unitario precio precio_kg precio_por_kg precio_unitario",
	"milk": "milk species milk_type type_of_milk milk_species lait espece type_lait type_de_lait milch milchart " +
		"tierart latte tipo_latte specie leche tipo_leche especie",
	"treatment": "treatment milk_treatment heat_treatment raw traitement traitement_lait traitement_thermique " +
		"behandlung milchbehandlung warmebehandlung trattamento trattamento_latte trattamento_termico tratamiento " +
		"tratamiento_leche tratamiento_termico",
	"coat": "coat coating rind rind_coat wax finish enrobage enrobe croute revetement paraffinage cire uberzug " +
		"ueberzug beschichtung rinde rindenbehandlung wachs coatingart rivestimento crosta trattamento_crosta " +
		"cera recubrimiento corteza",
	"coated": "coated coated_on coat_date date_coated coating_date coated_since waxed waxed_on date_waxed " +
		"wax_date cire_le enrobe_le date_enrobage date_paraffinage paraffine_le gewachst gewachst_am beschichtet " +
		"beschichtet_am wachsdatum uberzogen_am rivestito_il data_rivestimento cerato_il data_ceratura " +
		"recubierto_el fecha_recubrimiento encerado_el fecha_encerado",
	"last turn": "last_turn last_turned turned turned_on date_turned retourne retourne_le dernier_retournement " +
		"dernier_retourne gewendet gewendet_am zuletzt_gewendet letztes_wenden girato girato_il ultimo_giro " +
		"ultimo_rivoltamento rivoltato_il volteado volteado_el ultimo_volteo",
	"last brush": "last_brush last_brushed brushed brushed_on brosse brosse_le dernier_brossage geburstet " +
		"geburstet_am zuletzt_geburstet spazzolato spazzolato_il ultima_spazzolatura cepillado cepillado_el " +
		"ultimo_cepillado",
	"last wash": "last_wash last_washed washed washed_on lave lave_le dernier_lavage gewaschen gewaschen_am " +
		"zuletzt_gewaschen lavato lavato_il ultimo_lavaggio lavado lavado_el ultimo_lavado",
	"last rub": "last_rub last_rubbed rubbed rubbed_on frotte frotte_le dernier_frottage geschmiert " +
		"geschmiert_am zuletzt_geschmiert strofinato_il ultima_strofinatura frotado frotado_el ultimo_frotado",
}

// What the cells of some columns say, in the same five languages.
var (
	coatWords = vocabulary(map[string]string{
		"wax": "wax waxed cire cire_rouge paraffine paraffin paraffiniert wachs gewachst cera cerato paraffina " +
			"parafina encerado red_wax yellow_wax black_wax",
		"cloth": "cloth clothbound cloth_bound bandage bandaged toile tuch leinen garza tela",
		"oil":   "oil oiled huile huile_olive ol geolt olio oliato aceite",
		"breathable": "breathable coating plastic plastic_coat pva plastique plasticoat kunststoff " +
			"coating_atmungsaktiv plastica plastico",
		"foil": "foil aluminium alu folie alufolie feuille stagnola papel_aluminio",
		"film": "film vacuum vacuum_bag sous_vide vakuum sottovuoto vacio al_vacio",
		" ": "none bare no natural natural_rind nu aucun aucune sans naturel naturelle croute_naturelle ohne " +
			"keine keiner natur naturrinde nessuno nessuna senza naturale crosta_naturale ninguno ninguna sin " +
			"corteza_natural",
	})
	treatmentWords = vocabulary(map[string]string{
		"raw": "raw unpasteurised unpasteurized cru crue roh rohe roher rohmilch crudo cruda",
		"pasteurised": "pasteurised pasteurized past pasteurise pasteurisee pasteurisiert pasteurisierte " +
			"pasteurisierter pastorizzato pastorizzata pasteurizado pasteurizada",
		"thermised": "thermised thermized thermise thermisee thermisiert thermisierte thermisierter termizzato " +
			"termizzata termizado termizada",
	})
	speciesWords = vocabulary(map[string]string{
		"cow":     "cow cows vache kuh kuhmilch vacca mucca vaccino vaca bovin",
		"goat":    "goat goats chevre ziege ziegenmilch capra caprino cabra",
		"sheep":   "sheep ewe ewes brebis schaf schafmilch pecora pecorino ovino oveja",
		"buffalo": "buffalo bufflonne buffel buffelmilch bufala bufalina",
	})
	currencies = vocabulary(map[string]string{
		"EUR": "eur euro euros", "GBP": "gbp", "USD": "usd", "CHF": "chf fr sfr", "CAD": "cad", "AUD": "aud", "NZD": "nzd",
	})
)

// meant is what a cell says by a vocabulary: its own words, where they mean nothing there, and "" where it says none.
func meant(words map[string]string, cell string) string {
	if w, ok := words[key(cell)]; ok {
		return strings.TrimSpace(w)
	}
	return cell
}

// milk reads whose milk it is and how it was treated, as "Raw cow's milk" says both.
func (r *row) milk() (species, treatment string) {
	treatment = meant(treatmentWords(), r.text("treatment"))
	cell := r.text("milk")
	for _, w := range strings.Split(key(cell), "_") {
		if s := speciesWords()[w]; s != "" {
			species = s
		}
		if t := treatmentWords()[w]; t != "" && r.text("treatment") == "" {
			treatment = t
		}
	}
	if species == "" && treatment == "" {
		species = cell
	}
	return species, treatment
}

// price is the cell of a price with its currency, which may stand in the heading.
func (r *row) price() string {
	plain := strings.NewReplacer("€", " EUR ", "£", " GBP ", "/kg", "", "/ kg", "")
	s := strings.TrimSpace(plain.Replace(r.figure("price")))
	if f := strings.Fields(s); len(f) == 2 && !bare(f[0]) && bare(f[1]) { // the currency first
		s = f[1] + " " + f[0]
	}
	if !bare(s) {
		return s
	}
	for _, w := range strings.Split(key(plain.Replace(r.columns["price"].heading)), "_") {
		if c := currencies()[w]; c != "" {
			return s + " " + c
		}
	}
	return s
}

// temperature is the cell of a temperature in degrees Celsius, or with an F where the heading or the cell says so.
func (r *row) temperature() string {
	s := r.figure("temperature")
	if k := key(r.columns["temperature"].heading); bare(s) && strings.HasSuffix(k, "_f") {
		return s + "F"
	}
	return s
}
