"""Sentences as they are read: filled with one and many, with each way, with months that begin with a vowel, with names
such as "Le Bas". The whole ones follow the translators' reference sentences; the grammar is from memory."""

import re
from collections import defaultdict
from functools import cache

import pytest

from renovation.inputs import default_technique
from renovation.show.voice import Voice
from renovation.words import Words, languages

CURRENCY = {"en": "USD", "es": "USD", "fr": "XOF", "pt": "BRL", "id": "IDR"}
STAND = {"en": "Upper field", "es": "El Alto", "fr": "Le Bas", "pt": "Ômega", "id": "Petak 1"}
SUM = {"en": 300, "es": 300, "fr": 90_000, "pt": 900, "id": 900_000}
WAYS = sorted(key.removeprefix("way.") for key in Words("en").keys() if key.startswith("way."))  # noqa: SIM118
OWN = {"ours": default_technique("side_graft").model_copy(update={"label": "El nuestro"})}


def voice(language, start="2027-01"):
    return Voice(Words(language), CURRENCY[language], start, OWN)


def plain(text):
    """A text with plain spaces."""
    return text.replace("\N{NO-BREAK SPACE}", " ").replace("\N{NARROW NO-BREAK SPACE}", " ")


def said(language):
    """Sentences of each kind in a language, filled as the program fills them."""
    here, october, stand = voice(language), voice(language, "2027-10"), STAND[language]
    words, way, month, trees = here.words, here.way_inside, here.month, here.trees
    money = here.money(SUM[language])
    pair = {"first": way("side_graft"), "second": way("air_layer")}
    spans = {"first_span": words.span(4), "second_span": words.span(1 + 1 / 12)}
    never = {"first": way("basal_shoot_graft"), "second": way("underplanting")}
    left_out = words.listing([way("side_graft"), way("grafted_seedling")])
    asked = [
        ("plan.part", {"trees": trees(40), "stand": stand, "way": way("side_graft"), "month": month(3)}),
        ("plan.part", {"trees": trees(1), "stand": stand, "way": way("gap_planting"), "month": month(9)}),
        ("compare.best.worth", {"way": way("hard_pruning"), "money": money}),
        ("compare.alone.after", {"way": way("rooted_cutting"), "span": words.span(6.25)}),
        ("compare.alone.after", {"way": way("ours"), "span": words.span(1)}),
        ("compare.pair.after_after", {**pair, **spans}),
        ("compare.pair.not_within_not_within", {**never, "horizon": here.whole_years(25)}),
        ("compare.not_possible", {"ways": left_out}),
        ("compare.trough.deepest", {"way": way("bud_graft"), "month": month(9), "money": money}),
        ("cash.deepest.below", {"month": month(7), "money": money}),
        ("cash.hands.short", {"n": 2, "month": month(3), "days": here.days(1.0)}),
        ("lending.due.first", {"month": month(3)}),
        ("lending.reason.floor", {"month": month(9), "money": money, "floor": money}),
        ("plan.no_loan", {"loan": stand}),
        ("plan.later", {"trees": trees(1), "month": month(3)}),
        ("risk.missed.some", {"share": words.percent(0.1), "year": october.year(2)}),
        ("risk.missed.none", {"futures": here.futures(200)}),
    ]
    return [plain(here.sentence(key, **facts)) for key, facts in asked]


READ = {
    "en": [
        "40 trees in Upper field by side grafting in April 2027",
        "1 tree in Upper field by gap planting in October 2027",
        "Hard pruning is worth most: $300 more in today's money than leaving the farm as it is.",
        "Planting rooted cuttings pays back in 6 years 3 months.",
        "El nuestro pays back in 1 year.",
        "Side grafting pays back in 4 years; planting air layers in 1 year 1 month.",
        "Neither basal-shoot grafting nor planting under old trees pays back within 25 years.",
        "Left out, for no month within the years looked at suits: side grafting and planting grafted seedlings.",
        "Bud grafting: at the deepest, in October 2027, the work has cost $300 more than it brought.",
        "The deepest point is $300 in August 2027.",
        "There are not enough hands in 2 months. The worst is April 2027, with 1 day too few.",
        "The first instalment is due in April 2027.",
        "At the end of October 2027 the balance is $300, and $300 is always to be kept",
        'Do not take the loan "Upper field".',
        "In the years after start 1 tree more, the last in April 2027.",
        "In 10% of the futures an instalment is missed, most often in 2028/29.",
        "In none of 200 futures is an instalment missed.",
    ],
    "es": [
        '40 árboles en "El Alto" en abril de 2027 (injertar de lado)',
        '1 árbol en "El Alto" en octubre de 2027 (sembrar en las fallas)',
        "Lo que más vale es podar fuerte: $300 más, en dinero de hoy, que dejar la finca como está.",
        "Replantar con ramillas se paga en 6 años y 3 meses.",
        '"El nuestro" se paga en 1 año.',
        "Injertar de lado se paga en 4 años; replantar con acodos, en 1 año y 1 mes.",
        "Ni injertar en chupón basal ni sembrar bajo los árboles viejos se paga en 25 años.",
        "Ningún mes de los años que se miran sirve, así que no se compara: injertar de lado y replantar con plantas "
        "injertadas.",
        "Injertar de yema: en el peor momento, en octubre de 2027, el trabajo ha costado $300 más de lo que ha dado.",
        "El punto más bajo es $300, en agosto de 2027.",
        "Faltan manos en 2 meses. El peor: abril de 2027. Lo que falta: 1 día.",
        "La primera cuota vence en abril de 2027.",
        "Al final de octubre de 2027 el saldo es $300, y siempre hay que guardar $300",
        'No tome el préstamo "El Alto".',
        "En los años siguientes empiece 1 árbol más; el último, en abril de 2027.",
        "En 10% de los futuros se deja de pagar una cuota, más a menudo en 2028/29.",
        "En ninguno de 200 futuros se deja de pagar una cuota.",
    ],
    "fr": [
        "40 cacaoyers dans « Le Bas » en avril 2027 (greffer sur le côté)",
        "1 cacaoyer dans « Le Bas » en octobre 2027 (planter dans les places vides)",
        "Ce qui vaut le plus : tailler court, 90 000 FCFA de plus, en argent d'aujourd'hui, que laisser la plantation "
        "telle quelle.",
        "Replanter avec des boutures : frais récupérés en 6 ans et 3 mois.",
        "« El nuestro » : frais récupérés en 1 an.",
        "Frais récupérés : greffer sur le côté, en 4 ans ; replanter avec des marcottes, en 1 an et 1 mois.",
        "En 25 ans, ni greffer sur gourmand basal ni planter sous les vieux arbres ne permet de récupérer les frais.",
        "Aucun mois des années regardées ne convient, donc pas de comparaison : greffer sur le côté et replanter avec "
        "des plants greffés.",
        "Greffer en écusson : au plus bas, en octobre 2027, le travail a coûté 90 000 FCFA de plus qu'il n'a rapporté.",
        "Le point le plus bas est de 90 000 FCFA, en août 2027.",
        "Les bras manquent pendant 2 mois. Le pire : avril 2027, il manque 1 jour.",
        "La première échéance tombe en avril 2027.",
        "Fin octobre 2027, le solde est de 90 000 FCFA, et il faut toujours garder 90 000 FCFA",
        "Ne prenez pas le prêt « Le Bas ».",
        "Les années suivantes, commencez encore 1 cacaoyer, pour finir en avril 2027.",
        "Dans 10 % des avenirs, une échéance est manquée, le plus souvent en 2028/29.",
        "200 avenirs possibles : dans aucun une échéance n'est manquée.",
    ],
    "pt": [
        '40 pés em "Ômega" em abril de 2027 (enxertar de lado)',
        '1 pé em "Ômega" em outubro de 2027 (plantar nas falhas)',
        "O que mais vale é podar forte: R$ 900 a mais, em dinheiro de hoje, do que deixar a roça como está.",
        "Replantar com estacas se paga em 6 anos e 3 meses.",
        '"El nuestro" se paga em 1 ano.',
        "Enxertar de lado se paga em 4 anos; replantar com alporques, em 1 ano e 1 mês.",
        "Nem enxertar em broto basal nem plantar sob os pés velhos se paga em 25 anos.",
        "Nenhum mês dos anos considerados serve, por isso não se compara: enxertar de lado e replantar com mudas "
        "enxertadas.",
        "Enxertar com borbulha: no pior momento, em outubro de 2027, o trabalho custou R$ 900 a mais do que rendeu.",
        "O ponto mais baixo é R$ 900, em agosto de 2027.",
        "Falta gente em 2 meses. O pior: abril de 2027, com 1 dia a menos.",
        "A primeira parcela vence em abril de 2027.",
        "No fim de outubro de 2027 o saldo é R$ 900, e é preciso guardar sempre R$ 900",
        'Não pegue o empréstimo "Ômega".',
        "Nos anos seguintes, comece mais 1 pé, o último em abril de 2027.",
        "Em 10% dos futuros, uma parcela deixa de ser paga, mais vezes em 2028/29.",
        "Em nenhum de 200 futuros uma parcela deixa de ser paga.",
    ],
    "id": [
        '40 pohon di "Petak 1" pada April 2027 (sambung samping)',
        '1 pohon di "Petak 1" pada Oktober 2027 (tanam di tempat kosong)',
        "Yang paling menguntungkan: pangkas berat, Rp900.000 lebih banyak, dalam nilai uang hari ini, daripada "
        "membiarkan kebun apa adanya.",
        "Tanam ulang dengan setek balik modal dalam 6 tahun 3 bulan.",
        '"El nuestro" balik modal dalam 1 tahun.',
        "Sambung samping balik modal dalam 4 tahun; tanam ulang dengan cangkokan dalam 1 tahun 1 bulan.",
        "Sambung tunas pangkal dan tanam di bawah pohon tua sama-sama tidak balik modal dalam 25 tahun.",
        "Tidak ada bulan yang cocok dalam tahun yang dilihat, jadi tidak dibandingkan: sambung samping dan tanam ulang "
        "dengan bibit sambung.",
        "Okulasi: paling rendah pada Oktober 2027, biaya melebihi hasil sebesar Rp900.000.",
        "Titik terendah Rp900.000, pada Agustus 2027.",
        "Tenaga kurang dalam 2 bulan. Terburuk: April 2027, kurang 1 hari.",
        "Angsuran pertama jatuh pada April 2027.",
        "Pada akhir Oktober 2027 saldo Rp900.000, padahal Rp900.000 harus selalu disimpan",
        'Jangan ambil pinjaman "Petak 1".',
        "Tahun-tahun berikutnya mulai 1 pohon lagi, yang terakhir pada April 2027.",
        "Dalam 10% kemungkinan ada angsuran tak terbayar, paling sering pada 2028/29.",
        "Dari 200 kemungkinan, tidak ada angsuran tak terbayar.",
    ],
}


@pytest.mark.parametrize("language", READ)
def test_whole_sentences_read_as_a_speaker_would_write_them(language):
    assert said(language) == READ[language]


SLOT = "\x02"
"""Where a fact begins: only what stands before one is the sentence's own fault."""
PATTERNS = {
    "en": rf"\b(a|an|by the|of the) {SLOT}[a-z]",
    "es": rf"\b(de|a) {SLOT}el\b|\b(del|al|el|la|un|una) {SLOT}[a-záéíóú]|\by {SLOT}h?i(?![ae])|\bo {SLOT}h?o",
    "fr": rf"\b(de|que|ne|le|la|jusque|lorsque) {SLOT}[aeiouyhâàéèêîôû]|'{SLOT}[^aeiouyhâàéèêîôû]"
    rf"|\b(de|à) {SLOT}les?\b|\b(du|au|un|une) {SLOT}[a-zà-ÿ]|\bd'{SLOT}",
    "pt": rf"\b(de|em|por|a) {SLOT}(o|a|os|as)\b|\b(do|da|no|na|pelo|pela|ao|um|uma) {SLOT}[a-zà-ÿ]",
    "id": rf"\bke-{SLOT}[a-z]",
}
BAD = {language: re.compile(pattern, re.IGNORECASE) for language, pattern in PATTERNS.items()}
NOUNS = {
    "en": "tree/trees plant/plants scion/scions graft/grafts month/months year/years day/days place/places "
    "stand/stands farm/farms future/futures",
    "es": "árbol/árboles planta/plantas vareta/varetas injerto/injertos mes/meses año/años día/días falla/fallas "
    "lote/lotes finca/fincas futuro/futuros",
    "fr": "arbre/arbres cacaoyer/cacaoyers plant/plants greffon/greffons greffe/greffes an/ans année/années jour/jours "
    "journée/journées place/places parcelle/parcelles plantation/plantations avenir/avenirs",
    "pt": "pé/pés muda/mudas garfo/garfos enxerto/enxertos mês/meses ano/anos dia/dias falha/falhas talhão/talhões "
    "roça/roças futuro/futuros",
    "id": "",
}
"""What is counted, one and several of it; Indonesian has one form."""
MILLION = 1_000_000


def miscounted(language, text):
    """A number before the wrong form of what it counts; after a million es, fr and pt say "de"."""
    pairs = [pair.split("/") for pair in NOUNS[language].split()]
    one, many = ("|".join(forms) for forms in zip(*pairs, strict=True)) if pairs else ("$^", "$^")
    million = rf"|[.,  ]000 ({many})" if language in ("es", "fr", "pt") else ""
    found = re.search(rf"\b1 ({many})\b|\b2 ({one})\b{million}", plain(text))
    return found and found.group()


TORN = re.compile(r"  |\{\w+\}|\( | \)| [,;]| \.( |$)")
"""What no language writes: two spaces, a place without its fact, a sign that hangs."""


@cache
def bad(language, text):
    """What reads badly in a filled sentence, its slots marked."""
    found = BAD[language].search(text) or TORN.search(text.replace(SLOT, ""))
    return found and found.group()


MONTHS = ("month", "months", "early", "when", "due")


def samples(language):
    """What may fill a fact, by its name: ways of each family, months that begin with a vowel, names with an article."""
    here, words = voice(language), Words(language)
    drivers = [words(key) for key in sorted(words.keys()) if re.match(r"compare\.driver\.|risk\.axis\.", key)]
    ways = [here.way_inside(way) for way in (*WAYS, "ours")]
    kinds = {"driver": drivers, "year": ["2028/29"], "ways": [words.listing([way, ways[0]]) for way in ways]}
    months, names = [here.month(month) for month in (3, 7, 9)], ["Le Bas", "El Alto", "Ômega"]
    of = {"way": ways, "strategy": ways, "better": ways, "below": ways, "above": ways}
    return kinds | of | dict.fromkeys(MONTHS, months) | {"stand": names, "loan": names, "name": names}


def fills(language):
    """What may fill a fact of a key: `samples`, but for facts whose kind their key tells."""
    found = samples(language)

    def values(key, name):
        if name in ("first", "second", "last", "start"):
            pair = key.startswith(("compare.pair.", "compare.tie.", "risk.answer.ahead"))
            years = re.match(
                r"curve\.|risk\.case_help\.|plan\.(season|clones)|.*intercrop|tally\.|error\.before_gap", key
            )
            return found["way"] if pair else [] if years else found["month"]
        number = key.startswith(("lending.near.change.", "signed.")) or key.endswith(".years")
        return [] if number and name in ("months", "when") else found.get(name, [])

    return values


class Rest(dict):
    """Facts, all seven."""

    def __missing__(self, name):
        return "7"


def texts(entry):
    """The sentence of an entry, or those of its plural forms."""
    return [entry] if isinstance(entry, str) else list(entry.values())


def slots(text):
    """The facts of a sentence, each with the word that stands before it."""
    for slot in re.finditer(r"\{(\w+)\}", text):
        yield slot[1], re.search(r"[^\s}]*\s?$", text[: slot.start()])[0]


@pytest.mark.parametrize("language", languages())
def test_no_sentence_breaks_on_what_may_stand_in_it(language):
    values, broken, filled = fills(language), defaultdict(set), 0
    for key, entry in Words(language)._entries.items():
        for text in texts(entry):
            if torn := TORN.search(text.format_map(Rest())):
                broken[key].add(torn.group())
            for name, before in slots(text):
                for value in values(key, name) if before.strip() else ():
                    filled += 1
                    if wrong := bad(language, f"{before}{SLOT}{value}"):
                        broken[key].add(wrong)
    assert dict(broken) == {}
    assert filled > 1500


@pytest.mark.parametrize("language", languages())
def test_one_two_and_a_million_stand_before_the_right_form(language):
    words = Words(language)
    counting = [key for key in sorted(words.keys()) if not isinstance(words._entries[key], str)]
    assert len(counting) > 80
    asked = {key: dict.fromkeys(named(words._entries[key]), "7") for key in counting}
    wrong = {(key, n): miscounted(language, words(key, n=n, **asked[key])) for key in counting for n in (1, 2, MILLION)}
    assert {key: found for key, found in wrong.items() if found} == {}


@pytest.mark.parametrize(
    ("language", "text"),
    [("en", "1 trees"), ("es", "2 árbol"), ("es", "1.000.000 árboles"), ("fr", "1 000 000 arbres"), ("pt", "1 meses")],
)
def test_a_wrong_count_is_caught(language, text):
    assert miscounted(language, text)


def named(entry):
    """The facts of an entry but its number."""
    return set(re.findall(r"\{(\w+)\}", " ".join(texts(entry)))) - {"n"}


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("es", f"el trabajo de {SLOT}El Alto"),
        ("es", f"lo mejor es el {SLOT}injertar de lado"),
        ("es", f"podar y {SLOT}injertar"),
        ("fr", f"à partir de {SLOT}avril 2027"),
        ("fr", f"à partir d'{SLOT}octobre 2027"),
        ("fr", f"les arbres de {SLOT}Le Bas"),
        ("fr", f"moins que {SLOT}août"),
        ("pt", f"os pés em {SLOT}o Alto"),
        ("pt", f"pelo {SLOT}enxertar de lado"),
        ("en", f"by the {SLOT}side grafting"),
        ("en", f"{SLOT}7  trees"),
        ("id", f"tahun ke-{SLOT}April 2027"),
        ("id", "sebesar {money}"),
    ],
)
def test_what_reads_badly_is_caught(language, text):
    assert bad(language, text)


def test_what_reads_well_is_let_through():
    for language, text in [
        ("es", f'en "{SLOT}El Alto" en {SLOT}abril de 2027'),
        ("fr", f"dans «\N{NO-BREAK SPACE}{SLOT}Le Bas\N{NO-BREAK SPACE}» dès {SLOT}avril 2027"),
        ("pt", f'em "{SLOT}Ômega" a partir de {SLOT}abril de 2027'),
    ]:
        assert bad(language, text) is None


@pytest.mark.parametrize("language", ["es", "fr", "pt"])
def test_a_way_inside_a_sentence_is_an_infinitive(language):
    """Which has no article and no gender; in French none begins with a vowel, before which words change."""
    for way in WAYS:
        verb = voice(language).way_inside(way).split()[0]
        assert verb.endswith("r")
        assert language != "fr" or verb[0] not in "aeiouyhéèê"
