"""The words that recipes use for their columns and rows, in several languages.

Vocabulary of the trade and of everyday sheets (common practice), lower case.
"""

from __future__ import annotations

import re
import unicodedata

__all__ = [
    "TRIAL",
    "column_role",
    "date_row",
    "is_total",
    "is_water_name",
    "measured",
    "plain",
    "remark_row",
    "told_inline",
]


def plain(text: str) -> str:
    """Text for comparing words: lower case, single blanks; of a long text its beginning."""
    return re.sub(r"\s+", " ", unicodedata.normalize("NFC", text[:_LONGEST])).strip().casefold()


_LONGEST = 500
_ROLES: tuple[tuple[str, str], ...] = (
    ("cost_per_kg", r"(cost|price|preis|kosten|prix|coût|costo|precio|€|\$|£|eur|usd|gbp)"
                    r".*(/|per|je|par|pro|al|por) ?k(g|ilo)"),
    ("other", r"\b(cost|price|preis|kosten|prix|coût|costo|precio|eur|usd|gbp)\b|[€$£]"),
    ("strength", r"\bactives?\b|\baktiv|purity|\bsolids?\b|strength|\bassay\b|reinheit"),
    ("high", r"^(max|high|upper|hoch|bis|to)\b"),
    ("low", r"^(min|low|lower|von|from|ab)\b"),
    ("other", r"recommend|typical|supplier.*(level|range)|\bhlb\b|density|dichte|\bcas\b|einecs"
              r"|supplier|lieferant|fournisseur|\btemp|\bhersteller|manufacturer|allergen|origin"),
    ("lot", r"\blots?\b|\bcharge(n|nnr)?\b(?! ?[(\[]?k?g\b)"
            r"|batch (no|nr|number|code)|\bchargen|n° de lot"
            r"|lote|lotto"),
    ("weighed", r"\bactual|weighed|\bist\b|eingewogen|pesée? réelle|réel"),
    ("unit", r"^(units?|einheit|unité|unidad|unità|uom|maß)[ .:]*$"),
    ("percent", r"%|\bpercent|prozent|pour ?cent|por ?cient|percento|\bpct\b|w/w|m/m|g/100|"
                r"g (per|je|pro|pour) 100"),
    ("volume", r"\bml\b|millilit"),
    ("kilograms", r"\bkg\b|kilogram"),
    ("grams", r"\bgr?\b|gram|gewicht|weight|\bpoids\b|\bpeso\b|\bmasse\b|einwaage|weigh"),
    ("parts", r"\bparts?\b(?!.*no)|\bteile\b|\bparties\b|\bpartes\b|\bparti\b|\bpbw\b|\bphr\b"),
    ("remark", r"remark|\bnotes?\b|comment|bemerk|anmerk|hinweis|kommentar|remarque|observ|\bnota"
               r"|commento|^why\b|\binfo|instruct|^method|beschreib"),
    ("function", r"function|funktion|fonction|función|funzione|\brole\b|\brôle\b|purpose|zweck"
                 r"|^use$|^usage$|category|kategorie|^type$"),
    ("phase", r"^(ph|phase|phasen|fase|fasi|stage|part|teil|partie)[ .:]*(no|nr|n°|#)?[ .:]*$"),
    ("locked", r"^(locked|lock)$"),
    ("inci", r"\binci\b"),
    ("common", r"trade|common|handelsname|nom commercial|nome commerciale|nombre comercial"
               r"|brand|what it is"),
    ("name", r"ingred|material|\bcomponent|rohstoff|inhaltsst|zutat|\bstoff|bezeichnung|matière"
             r"|composant|componente|materia|^what$|^names?$|substan|^items?$|product|constitu"
             r"|^nom$|^nombre$|^nome$|grondstof|sostanz|^raw |rohware|wirkstoff|description"),
    ("amount", r"amount|menge|\bqty\b|quantit|cantidad|share|anteil|\bdos(e|age|is|ierung)\b"
               r"|level|concentration|konzentration|how much|wieviel|hoeveelheid|proportion"
               r"|conc\b"),
    ("number", r"^(no|nr|n°|nº|#|pos|step|order|item no|line|zeile|schritt)[ .:]*$"),
)  # fmt: skip
_COMPILED = [(role, re.compile(pattern)) for role, pattern in _ROLES]

TRIAL = re.compile(
    r"^(trial|test|versuch|essai|prueba|prova|batch|version|variant|var|sample|muster|v|t|b|f|"
    r"formula|rezept|mix|run|#|no|nr)[ .:#-]*[\w.-]{0,6}$|^[a-z]{1,4}[ -]?\d{1,4}[a-z]?$"
    r"|^\d{1,3}[a-z]?$"
)  # fmt: skip
_TOTAL = re.compile(
    r"^(grand |batch |formula )?(total|totals|totale|sum|summe|gesamt|gesamtsumme|gesamtmenge|somme"
    r"|suma|totaal|som|soma|Σ|σ|∑|sum total|total general|insgesamt)"
    r"( ?(%|\(?%\)?|in %|\(?g\)?|weight|batch|percent|amount|menge|w/w|gewicht|\(.*\)))*[ :=.]*$",
    re.IGNORECASE,
)
_SUBTOTAL = re.compile(
    r"^(sub-?total|zwischensumme|sous-total|subtotale)\b|^(total|sum|summe|somme|totale) "
    r"(of )?(phase|fase|ph\.?|teil|[a-z]\b|[ivx]+\b|\w+ phase|\w+phase)|phase \w+ (total|sum|summe)"
)
_MEASURED = re.compile(
    r"^ph(?![a-z-])(?! ?-?(adjust|regul|modif|corr|buffer|stell|einstell|korr|reg\b))"
    r"|^(final |initial |target |end-?)?ph([- ]?wert)?( |$|\()(?!adjust|regul|modif|corr"
    r"|buffer|korr)"
    r"|^(visc|visk|hardness|härte|dureté|density|dichte|densité|spec(ific)?\.? gravity|appear"
    r"|aussehen|aspect|colou?r\b(?! ?\()|farbe|couleur|odou?r|geruch|odeur|smell|texture\b"
    r"|feel\b|textur"
    r"|stability|stabilit|spread|drain|cup|thickness|dicke|foam|schaum|mousse|centrifug|zentrifug"
    r"|conductivity|leitf|refract|brix|yield|ausbeute|rendement|drop point|melting|schmelz|rating"
    r"|score|note /|spindle|speed|rpm|temperature|temperatur\b|température|weight loss|droplet"
    r"|slip|tack|gloss|water activity|aw\b|turbid|trübung|clarity)"
)
_SURELY_MEASURED = re.compile(
    r"^ph(?![a-z-])(?! ?-?(adjust|regul|modif|corr|buffer|stell|einstell|korr|reg\b))"
    r"|^(final|initial|target|end-?) ?ph\b(?! ?(adjust|regul|modif|corr|buffer|korr))|^ph-?wert"
    r"|^(visc|visk)os|^(stability|stabilität|stabilité)\b|^(hardness|härte|dureté|density|dichte|densité|appearance|aussehen|aspect"
    r"|spindle|spread diameter|cup drain|specific gravity|batch size|yield|ausbeute|conductivity)\b"
)
_REMARK_ROW = re.compile(
    r"^(remarks?|notes?|comments?|observations?|bemerkung(en)?|anmerkung(en)?|kommentar|hinweis"
    r"|remarques?|commentaires?|nota|osservazioni|observaciones|result(s|at)?|verdict)[ :.]*$"
)
_DATE_ROW = re.compile(r"^(date|datum|fecha|data|made( on)?|made|hergestellt|day|tag|jour)[ :.]*$")
_WATER = re.compile(
    r"^((aqua|water|eau|wasser|acqua|agua)( ?[(/,] ?(aqua|water|eau|wasser)\)?)*"
    r"|(distilled|deioni[sz]ed|demineralised|demineralized|purified|di|dest\.?"
    r"|dem\.?) (water|wasser)"
    r"|(water|wasser|eau|aqua),? (dest\.?|demin\.?|distilled|purified|purificata|deioni[sz]ed"
    r"|déminéralisée|distillée|purifiée|dem\.?))$"
)


def column_role(text: str) -> str | None:
    """What a column heading stands for; None where the word is not known."""
    word = plain(text).strip("*_ :")
    if not word or len(word) > 60 or re.fullmatch(r"[\d.,]+", word) or re.search(r"\d ?%", word):
        return None
    return next((role for role, pattern in _COMPILED if pattern.search(word)), None)


def is_total(text: str) -> str | None:
    """``"total"``, ``"subtotal"``, or None for the first words of a row."""
    word = plain(text).strip("*_ ")
    if _TOTAL.match(word):
        return "total"
    return "subtotal" if _SUBTOTAL.search(word) and len(word) < 60 else None


def measured(text: str, *, surely: bool = False) -> bool:
    """Whether a row's first words name something that is measured on the batch.

    ``surely`` leaves out the words that could also begin the name of a material.
    """
    return bool((_SURELY_MEASURED if surely else _MEASURED).search(plain(text)))


def remark_row(text: str) -> bool:
    """Whether a row holds remarks on the whole batch."""
    return bool(_REMARK_ROW.match(plain(text)))


def told_inline(text: str) -> tuple[str, str] | None:
    """A reading or a remark written in one cell: ``pH: 5.4``, ``Notes: keep cool``."""
    match = re.match(r"^(?P<what>[^:=]{2,40}?) ?[:=] ?(?P<value>\S.*)$", text.strip(), re.DOTALL)
    if match and (measured(match["what"], surely=True) or remark_row(match["what"])):
        return match["what"], match["value"]
    return None


def date_row(text: str) -> bool:
    """Whether a row holds the day of making."""
    return bool(_DATE_ROW.match(plain(text)))


def is_water_name(text: str) -> bool:
    """Whether a name, remarks in brackets at its end left aside, is plain water."""
    word = plain(text)
    return bool(_WATER.match(word) or _WATER.match(re.sub(r" ?\([^()]*\)$", "", word)))
