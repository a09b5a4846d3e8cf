package privacy

// Words for invented people of the tuned half.
const (
	enGiven   = "James Mary Robert Patricia John Jennifer Michael Linda David Elizabeth William Barbara Susan Jessica Karen Emily Margaret Olive Rose Grace Frank"
	enSurname = "Smith Johnson Williams Jones Taylor Davies Evans Thompson Walker Wright Green Brown Hughes Edwards Stone Clarke Bennett"
	deGiven   = "Hans Ursula Peter Renate Klaus Helga Jürgen Monika Günter Ingrid Heinz Karin Wolfgang Gerda Uwe Sabine"
	deSurname = "Müller Schmidt Schneider Fischer Weber Meyer Wagner Becker Hoffmann Schäfer Koch Bauer Krüger Lehmann Köhler Weiß"
	frGiven   = "Jean Marie Pierre Françoise Michel Monique André Hélène René Jacqueline Gérard Sylvie"
	frSurname = "Martin Bernard Dubois Durand Moreau Lefèvre Girard Mercier Petit Rousseau Garnier Chevalier"
	esGiven   = "Antonio Carmen José María Manuel Josefa Francisco Isabel Ángel Lucía"
	esSurname = "García González Rodríguez Fernández López Martínez Sánchez Pérez Muñoz Núñez"
	itGiven   = "Giuseppe Maria Giovanni Anna Antonio Rosa Luigi Giovanna Francesco Carmela"
	itSurname = "Rossi Ferrari Russo Bianchi Esposito Romano Colombo Ricci Marino Conti"
	seGiven   = "Lars Anna Mikael Eva Anders Kerstin Johan Birgitta Göran Åsa"
	seSurname = "Andersson Johansson Karlsson Nilsson Eriksson Lindberg Sjöberg Bergström"
	plGiven   = "Jan Anna Stanisław Maria Andrzej Katarzyna Józef Małgorzata"
	plSurname = "Nowak Kowalski Wiśniewska Wójcik Kamiński Lewandowska Zielińska"
)

// fullNames writes given name and surname in the ways that exports do.
func fullNames(given, surname string) []maker {
	g, s := from(given), from(surname)
	return []maker{join(s, ", ", g), join(g, " ", s), join(g, " ", pattern("A."), " ", s), join(pattern("A"), ". ", s)}
}

func parts(given, surname string) []maker { return []maker{from(given), from(surname)} }

func tunedRecipes() []recipe {
	const h = "tuned"
	codes := oneOf("S1|S2|S3|K17|K22|C004|C011")
	rs := []recipe{
		{h, "en", Name, "patient_name|Name|x1", fullNames(enGiven, enSurname)},
		{h, "en", Name, "first_name|surname|pt", parts(enGiven, enSurname)},
		{h, "de", Name, "Name|Patientenname|Feld 3", fullNames(deGiven, deSurname)},
		{h, "de", Name, "Nachname|Vorname", parts(deGiven, deSurname)},
		{h, "fr", Name, "Nom du patient|colonne2", fullNames(frGiven, frSurname)},
		{h, "fr", Name, "nom|prénom", parts(frGiven, frSurname)},
		{h, "es", Name, "Nombre y apellidos|dato", fullNames(esGiven, esSurname)},
		{h, "it", Name, "Cognome e nome|campo", fullNames(itGiven, itSurname)},
		{h, "sv", Name, "Namn|kolumn", fullNames(seGiven, seSurname)},
		{h, "pl", Name, "Imię i nazwisko|pole", fullNames(plGiven, plSurname)},
		{h, "en", Name, "initials|ref", []maker{pattern("A.A."), pattern("A. A.")}},
		{h, "en", Name, "contact|seen_by", []maker{join(oneOf("Mr|Mrs|Dr.|Ms"), " ", from(enSurname)), join(oneOf("Frau|Herr"), " ", from(deSurname))}},
		{h, "en", Name, "clinician|lab|reader", []maker{mixed(codes, join(from(enSurname), ", ", from(enGiven))), mixed(codes, join(from(deGiven), " ", from(deSurname)))}},
		{h, "en", Address, "address|col_a", []maker{join(between(1, 300), " ", oneOf("Mill|High|Park|Station|Church"), " ", oneOf("Street|Road|Lane|Avenue|Rd")), join("PO Box ", pattern("999"))}},
		{h, "de", Address, "Anschrift|Spalte1", []maker{join(oneOf("Linden|Bahnhof|Garten|Schul"), oneOf("straße|weg|allee|str."), " ", between(1, 120)), join("Am Alten Platz ", between(1, 99))}},
		{h, "fr", Address, "adresse|c1", []maker{join(between(1, 90), " ", oneOf("rue|avenue|boulevard"), " ", oneOf("de la Gare|des Lilas|du Moulin"))}},
		{h, "es", Address, "dirección|v2", []maker{join(oneOf("Calle|Avenida|Plaza"), " ", oneOf("Mayor|del Sol|Nueva"), ", ", between(1, 99))}},
		{h, "it", Address, "indirizzo|v3", []maker{join(oneOf("Via|Viale|Piazza"), " ", oneOf("Garibaldi|Roma|Verdi"), " ", between(1, 99))}},
		{h, "en", Town, "city|town", []maker{oneOf("Bristol|Leeds|Sheffield|Ashford|Hexham"), oneOf("Springfield|Riverton|Oakdale|Denver")}},
		{h, "de", Town, "Wohnort|Ort", []maker{oneOf("Hamburg|Köln|Buxtehude|Winsen|Lüneburg")}},
		{h, "en", PostalCode, "zip|postcode|zip_code", []maker{pattern("99999"), pattern("99999-9999")}},
		{h, "en", PostalCode, "postcode|area", []maker{join(oneOf("SW|LS|M|B|EH"), pattern("9"), " ", pattern("9"), oneOf("AB|QT|DX|LP"))}},
		{h, "de", PostalCode, "PLZ", []maker{pattern("99999"), pattern("9999")}},
		{h, "en", Date, "dob|visit_date|k", []maker{day("YYYY-MM-DD", 1930, 2024), day("MM/DD/YYYY", 1930, 2024), day("M/D/YY", 1950, 2024)}},
		{h, "de", Date, "Geburtsdatum|Datum|Feld 9", []maker{day("DD.MM.YYYY", 1930, 2024), day("D.M.YYYY", 1930, 2024), day("DD.MM.YY", 1950, 2024)}},
		{h, "en", Date, "records|when", []maker{day("YYYY-MM", 2020, 2024), join(between(1, 28), " ", oneOf("January|March|May|October|Dec"), " ", between(2019, 2024)), day("YYYYMMDD", 1990, 2024), join(day("YYYY-MM-DD", 2020, 2024), "T08:15:00Z")}},
		{h, "fr", Date, "date de visite|z", []maker{join(between(1, 28), " ", oneOf("janvier|février|août|décembre"), " ", between(2019, 2024))}},
		{h, "en", Date, "admission", []maker{between(43000, 45500)}},
		{h, "en", Age, "age|patient_age", []maker{between(60, 99), join(between(88, 99), " years")}},
		{h, "de", Age, "Alter|Geburtsjahr", []maker{between(91, 99), between(1925, 1935)}},
		{h, "en", Telephone, "phone|mobile|c7", []maker{pattern("(555) 999-9999"), pattern("555-999-9999"), pattern("+44 7700 900999"), pattern("+1 555 999 9999")}},
		{h, "de", Telephone, "Telefon|Rückruf", []maker{pattern("0171 9999999"), pattern("040/999999"), pattern("+49 40 9999999"), pattern("0171-9999999")}},
		{h, "fr", Telephone, "téléphone|c8", []maker{pattern("06 99 99 99 99"), pattern("+33 6 99 99 99 99"), pattern("06.99.99.99.99")}},
		{h, "en", Telephone, "phone", []maker{pattern("555-9999"), pattern("5559999999")}},
		{h, "en", Fax, "fax|fax_number", []maker{pattern("040/9999999"), pattern("5559999")}},
		{h, "en", Email, "email|contact|c9", []maker{join(from("anna jsmith k.weber maria77"), "@", from("example.org example.com mail.example.net"))}},
		{h, "en", URL, "website|link", []maker{join("https://example.org/p/", pattern("9999")), join("www.example.com/", pattern("aaa"))}},
		{h, "en", IPAddress, "ip|source", []maker{join("192.0.2.", between(1, 254)), join("2001:db8::", pattern("xxx")), join("10.20.", between(30, 200), ".", between(1, 200))}},
		{h, "en", NationalNumber, "ssn|c10", []maker{until(pattern("499-99-9999"), validSSN)}},
		{h, "en", NationalNumber, "nhs_number|c11", []maker{until(pattern("999 999 9999"), validNHS), until(pattern("9999999999"), validNHS)}},
		{h, "de", NationalNumber, "Steuer-ID|c12", []maker{until(join(pattern("4"), pattern("9999999999")), validGermanTax)}},
		{h, "de", HealthPlan, "Versichertennummer|c13", []maker{until(pattern("A999999999"), validKVNR)}},
		{h, "nl", NationalNumber, "BSN|c14", []maker{until(pattern("199999999"), validBSN)}},
		{h, "fr", NationalNumber, "numéro de sécurité sociale|c15", []maker{until(join("2", between(30, 70), "08", pattern("9999999999")), validNIR)}},
		{h, "sv", NationalNumber, "personnummer|c16", []maker{until(join(day("YYMMDD", 1930, 1999), "-", pattern("9999")), validSwedish), until(join(day("YYYYMMDD", 1930, 1999), pattern("9999")), validSwedish)}},
		{h, "en", Account, "iban|card|c17", []maker{until(pattern("DE99999999999999999999"), validIBAN), until(pattern("4111 9999 9999 9999"), luhn), until(pattern("4999999999999999"), luhn)}},
		{h, "en", MedicalRecord, "mrn|chart_no|patient_number", []maker{pattern("999999"), pattern("A-99999"), pattern("99/9999")}},
		{h, "de", MedicalRecord, "Patientennummer|Aktenzeichen|Pat.-Nr.", []maker{pattern("999999"), pattern("AA 99/999")}},
		{h, "fr", MedicalRecord, "numéro de dossier", []maker{pattern("999999")}},
		{h, "en", MedicalRecord, "remark|c18", []maker{join("MRN ", pattern("999999")), join("Chart no. ", pattern("99999"))}},
		{h, "en", HealthPlan, "member_id|policy number|insurance_no", []maker{pattern("AAA999999999"), pattern("9999999")}},
		{h, "en", Account, "account_number|bank account", []maker{pattern("99999999"), pattern("99-99-99 99999999")}},
		{h, "en", Licence, "driver license|passport_no", []maker{pattern("A9999999"), pattern("999999999")}},
		{h, "de", Licence, "Ausweisnummer|Führerschein", []maker{pattern("L99A9999")}},
		{h, "de", Vehicle, "Kennzeichen|kfz", []maker{join(from("HH M B KA WI"), "-", pattern("AA"), " ", pattern("1999"))}},
		{h, "en", Vehicle, "license plate|vin", []maker{pattern("AAA 9999"), until(pattern("1M8GA9A9999999999"), validVIN)}},
		{h, "en", DeviceSerial, "serial_number|device_serial|implant serial", []maker{pattern("SN99999999"), pattern("999-A9999")}},
		{h, "en", DeviceSerial, "scanner|c19", []maker{join("S/N ", pattern("A999999")), pattern("xx:xx:xx:xx:xx:xx")}},
		{h, "en", Biometric, "fingerprint|voice print", []maker{pattern("xxxxxxxx-xxxx")}},
		{h, "en", Photo, "photo|portrait|c20", []maker{join("pt_", pattern("9999"), ".jpg"), join("IMG_", pattern("9999"), ".JPEG")}},
		{h, "en", Hash, "pid|case_hash", []maker{pattern("xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx"), pattern("xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx"), pattern("xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx")}},
		{h, "en", FreeText, "notes|comment|c21", []maker{sentence("patient came back with her daughter and said that the lower denture hurts since the weekend|she lives next to the old mill and works at the bakery in the mornings|asked to be called after noon because he drives the school bus")}},
		{h, "de", FreeText, "Bemerkung|Notiz|c22", []maker{sentence("Patientin kam mit der Tochter und klagt seit dem Wochenende über Schmerzen im Unterkiefer|wohnt neben der alten Mühle und arbeitet morgens in der Bäckerei am Markt")}},
		{h, "en", Email, "clinician|reader", []maker{mixed(codes, join(from("anna jsmith"), "@example.org"))}},
		{h, "en", Telephone, "lab|site", []maker{mixed(codes, pattern("+44 7700 900999"))}},
		{h, "en", NationalNumber, "lab|site", []maker{mixed(pattern("K999"), until(pattern("9999999999"), validNHS)), mixed(codes, until(pattern("499-99-9999"), validSSN))}},
		{h, "en", Date, "lab|reader", []maker{mixed(codes, day("DD.MM.YYYY", 1930, 2024))}},
	}
	return append(rs, tunedDecoys()...)
}

// sentence adds a changing word, so that texts differ as typed ones do.
func sentence(entries string) maker { return join(oneOf(entries), " (", pattern("aaaa"), ")") }

func tunedDecoys() []recipe {
	const h = "tuned"
	return []recipe{
		{h, "en", "", "case_id|patient_code|key", []maker{counter("K%08d", 0), pattern("xxxxxxxx-xxxx-4xxx-8xxx-xxxxxxxxxxxx"), pattern("AAA9999"), pattern("P99999999")}},
		{h, "en", "", "clinician|reader|operator_code", []maker{oneOf("C001|C002|C014"), oneOf("D09|D12"), oneOf("KM|AB|XZ")}},
		{h, "en", "", "site|lab|unit", []maker{oneOf("S1|S2|S3"), oneOf("north|south|hill"), oneOf("LAB-1|LAB-2")}},
		{h, "en", "", "shade|tooth_shade", []maker{oneOf("A1|A2|A3|A3.5|B1|B2|C2|D3"), oneOf("light|medium|dark ivory|pearl white"), oneOf("1M1|2M2|3L1.5")}},
		{h, "en", "", "material|base_material|resin", []maker{oneOf("heat-cured acrylic|PMMA|polyamide|milled PMMA|printed resin"), oneOf("Zinc oxide eugenol paste|Polyvinyl siloxane, light body|Alginate, fast set|Polyether, medium body"), oneOf("Pink veined|Clear|Dark pink")}},
		{h, "en", "", "tray_size|tray", []maker{oneOf("S|M|L|XL"), oneOf("small|medium|large|extra large"), oneOf("U1|U2|U3|L1|L2")}},
		{h, "en", "", "device_model|scanner_model|device name", []maker{oneOf("ScanPro 3|ScanPro 4 Plus|TrayOne X"), oneOf("MX-200|MX-310|QR 50"), oneOf("Articulator Mark II|Facebow Type C")}},
		{h, "en", "", "batch|lot|batch_no", []maker{pattern("L99A99"), pattern("2024-99"), pattern("B999999"), pattern("99999999")}},
		{h, "en", "", "vdo_mm|clearance|lip", []maker{tenths(50, 80, "."), tenths(1, 5, ","), between(45, 90)}},
		{h, "en", "", "day|observed_to_day|delivered_day", []maker{between(0, 999), between(-5, 4000)}},
		{h, "en", "", "records_year|year", []maker{between(2019, 2025)}},
		{h, "en", "", "age_band|age", []maker{oneOf("<50|50-59|60-69|70-79|80-89|90+"), between(40, 89)}},
		{h, "de", "", "Alter|Altersgruppe", []maker{between(45, 89), oneOf("50-59|60-69|70-79")}},
		{h, "en", "", "phone_reminder|email consent|address_confirmed|photo_taken|date_known", []maker{oneOf("yes|no"), oneOf("Y|N|unknown")}},
		{h, "de", "", "Patient zufrieden|Foto gemacht|Adresse geprüft|Telefon vorhanden", []maker{oneOf("ja|nein"), oneOf("ja|nein|unbekannt")}},
		{h, "fr", "", "patient satisfait|nombre de retouches|nombre de visites", []maker{oneOf("oui|non"), between(0, 9)}},
		{h, "en", "", "expiry_date|best before|calibration date", []maker{day("YYYY-MM", 2025, 2027), day("YYYY-MM-DD", 2025, 2027)}},
		{h, "en", "", "software_version|firmware", []maker{oneOf("1.2.3.4|2.10.3.1|2.11.0.0"), oneOf("v2.4.1|v2.5.0")}},
		{h, "en", "", "zone|side|scheme", []maker{oneOf("tuberosity|labial_sulcus|ridge_crest_back"), oneOf("left|right|middle"), oneOf("balanced|lingualized|monoplane")}},
		{h, "en", "", "complaints|touches", []maker{oneOf("sore|sore\\|loose|none|speech\\|gagging"), oneOf("none|ridge|tongue|soft_palate")}},
		{h, "en", "", "article_no|order number|catalogue no", []maker{pattern("99999"), pattern("999-999-9999"), pattern("99999999999")}},
		{h, "en", "", "zip3|file_name|file", []maker{oneOf("100|112|303|606|941"), oneOf("scan_upper.stl|scan_lower.stl|bite.ply")}},
		{h, "de", "", "Bemerkung|Kommentar", []maker{oneOf("ok|keine|Druckstelle"), oneOf("o.B.|kontrolliert|")}},
		{h, "en", "", "technique|protocol", []maker{oneOf("Two-stage impression with border moulding in green stick and zinc oxide wash|Single-stage mucostatic impression in alginate with a stock tray for the first record"), oneOf("selective pressure|functional|mucostatic")}},
		{h, "en", "", "tooth|mould", []maker{oneOf("11|12|21|36|46"), oneOf("T26|M32|H7"), oneOf("11-21|13-23")}},
		{h, "en", "", "appointment_minutes|price|score", []maker{between(10, 90), tenths(50, 999, "."), oneOf("1/5|2/5|3/5|4/5")}},
		{h, "en", "", "time|duration", []maker{join(between(8, 17), ":", pattern("19")), join(between(10, 59), " min")}},
		{h, "en", "", "random_key|token", []maker{pattern("9999999999"), pattern("999999999"), pattern("99999999999"), pattern("A999999999"), pattern("aaaa-aaaa")}},
		{h, "es", "", "material|color|turno", []maker{oneOf("resina acrílica|silicona|alginato"), oneOf("rosa|claro|marfil"), oneOf("mañana|tarde")}},
		{h, "it", "", "materiale|lato|esito", []maker{oneOf("resina|silicone|gesso"), oneOf("destro|sinistro"), oneOf("buono|discreto|scarso")}}, //nolint:misspell // no English
		{h, "sv", "", "material|käke|utfall", []maker{oneOf("akrylat|silikon|alginat"), oneOf("överkäke|underkäke"), oneOf("bra|mindre bra")}},
		{h, "en", "", "baseplate|plate_thickness|denture_age|plaque_index", []maker{oneOf("wax|shellac|resin"), tenths(1, 4, "."), between(1, 30)}},
		{h, "en", "", "ridge_class|grade|take", []maker{oneOf("1|2|3|4"), oneOf("I|II|III|IV"), oneOf("mild|moderate|severe")}},
		{h, "en", "", "chart_type|record_quality|card type", []maker{oneOf("paper|electronic"), oneOf("good|fair|poor")}},
	}
}
