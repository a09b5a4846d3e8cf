package mapping

// Help says what a mapping file is made of, for people who write one.
const Help = `A mapping file (TOML) says what a practice calls things. Words stand in quotes, lists in
[ ]; capitals and blanks in words do not count. 'afterfit look EXPORT --propose FILE'
writes one to start from, every guess with its reason.

  [export]                         # what holds for the whole export
  name = "Clinic list"
  basis = "limited_data_set"       # or safe_harbor, consented_local
  invented = false                 # true: no real person stands behind a row
  complete = false                 # true: cases that are absent are withdrawn
  decimal = ","                    # the decimal mark, . if not said
  date = "dd.mm.yyyy"              # from yyyy, yy, mm, dd and q: "Qq yyyy" is Q2 2025
  empty = ["n/a", "-"]             # words that mean not recorded
  absent = ["readings"]            # tables that this kind of export does not have

  [sources.patients]               # a file or sheet, by a name of your own
  file = "patients*.csv"           # * any letters, ? one; sheet = "..." in workbooks
  many = false                     # true: several alike may fit
  encoding = "latin-1"             # where it is not found by looking; also delimiter, format
  header = 3                       # line of the column words; else where they are found
  skip = ["Total*"]                # rows whose first cell is so, such as totals

  [[cases]]                        # a table of the contract ('afterfit look --contract')
  from = "patients"
  where = [{ column = "Kind", is = ["Denture"] }]   # or not = [...], filled = true
  [cases.columns]
  case_id = { column = "Case no" }
  patient_key = { join = ["Practice", "Patient"], with = "-" }      # a key of several columns
  clinician = { column = "Dentist", letters = "upper" }
  site = { value = "S1" }                                           # the same in every row
  records_on = { column = "Records", keep = "month" }               # year, quarter, month, day
  age_band = { column = "Born", date = "dd.mm.yyyy" }               # or an age, or a band
  sex = { column = "Sex", codes = "sex", default = "unknown" }
  ridge_class = { column = "PDI", numerals = "roman" }
  observed_to_day = { column = "Last seen", day0 = "records" }      # a date becomes a day

  [[visits]]
  from = "patients"
  each = ["1..8"]                  # sideways columns: one row for each; {n} is its word
  [visits.columns]
  visit_id = { join = ["Case no", "{n}"] }
  case_id = { column = "Case no" }
  day = { column = "Visit {n} week", unit = "weeks", since = "delivery" }
  adjusted = { value = "yes" }
  minutes = { first_of = [{ column = "Min {n}", unit = "min" }, { column = "Hours {n}", unit = "h" }] }
  complaints = { column = "Complaints {n}", split = ",", codes = "complaints" }

  [codes.sex]                      # their word = the contract's code
  F = "female"
  "*" = "unknown"                  # every other word

  [[cleared]]                      # a person's word that a finding is none
  table = "patients"               # the source, file or sheet, as the message names it
  column = "Lab"                   # or "lines above the header"
  kind = "name"
  reason = "names of laboratories, not of people"

Units: mm, cm, in; days, weeks; min, h. day0 and since take "records", since also
"delivery", or the column word of a date. A second column of the same word is Word#2.
Ages become bands by themselves; the contract's own codes are understood in any capitals.
A cell that cannot be turned sets its row aside, named by your file, line and column.

Before anything is turned, every column of every sheet is looked through for what could
identify people, whether the mapping names it or not, as the basis asks. A finding stops
the load, unless it is a date of which only a number of days, the year or an age band is
left, or an age of which the band is left: that is read and not stored. Names, numbers
and the like stop it even where a code list or a key would take their place. Under
safe_harbor records_on keeps the year; under the others what keep says. Local law and
whoever is responsible for privacy decide.`
