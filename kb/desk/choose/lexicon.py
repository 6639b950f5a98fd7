"""The words that are understood in a typed line, and how what was understood is said."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from kb.model.question import Question


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


class Said(NamedTuple):
    """One stretch of words and what it was taken for."""

    words: str
    meant: str
    sign: bool = False


def meant(phrase: str, kind: str, called: str) -> str:
    """What a name was taken for: its kind, and the whole name where that says more than was typed."""
    if phrase.casefold() == called.casefold():
        return kind
    # "Rag paper = paper Rag paper with gelatin size" reads as a word said twice.
    return called if kind in called.casefold() else f"{kind} {called}"


class Spoken(NamedTuple):
    """The question, what was understood in the order it was said, and the words that were not."""

    question: Question
    understood: tuple[Said, ...]
    left: tuple[str, ...]
    closest: str = ""
    """The line with the closest names in place of words that were not understood; empty if none is close."""
    without: tuple[str, ...] = ()
    """What the closest names are: a medium that is left out, for one, bars nothing."""
    unsure: tuple[str, ...] = ()
    """Words of doubt: what they are said of is taken as if it were sure."""

    @property
    def sentence(self) -> str:
        """What was understood and what was not, to be said before the answer."""
        text = "Understood: " + "; ".join(f"{one.words} = {one.meant}" for one in self.understood) + "."
        return f"{self.missed}{text}"

    @property
    def brief(self) -> str:
        """The same in short, beside blanks that show what the names were taken for."""
        return f"{self.missed}{self.in_short}"

    @property
    def in_short(self) -> str:
        """What was understood, without what each name was taken for."""
        signs = ", ".join(one.words for one in self.understood if one.sign)
        # What a glue was taken for stands in no blank.
        names = ", ".join(
            f"{one.words} ({one.meant})" if one.meant.startswith(TAKEN) else one.words
            for one in self.understood
            if not one.sign
        )
        parts = (f"as signs {signs}" if signs else "", f"as names {names}" if names else "")
        return f"Understood {'; '.join(filter(None, parts))}."

    @property
    def missed(self) -> str:
        """What was not understood, and what the answer does not know for that; empty if all was."""
        said = f"Not understood and left out: {', '.join(self.left)}. " if self.left else ""
        if self.without:
            said += f"The answer is not whole: it knows nothing of this {' or '.join(self.without)}. "
        return f"{said}{sure_in_spite(self.unsure)}. " if self.unsure else said


def sure_in_spite(doubts: Iterable[str]) -> str:
    """What comes of words of doubt; empty where there are none."""
    said = ", ".join(f'"{one}"' for one in doubts)
    return f"Taken as if it were sure, in spite of {said}" if said else ""


THINGS = frozenset(("photograph", "photo", "photographic print", "cabinet card", "seal", "wax seal", "wash"))
"""Names of a thing, of which a sheet bears one kind: where its kind is named as well, that is meant. A pen
beside a marker is another."""
SIGNS = {word: (look, finding) for look, finding, words in (
    ("hardness", "brittle", "brittle hard hardened"), ("hardness", "soft", "soft goo gooey"),
    ("tack", "strong", "sticky tacky"), ("tack", "none", "tackless"), ("made-of", "film", "plastic"),
    ("adhesive-colour", "amber", "yellow yellowed yellowing orange amber"), ("stretch", "much", "stretchy"),
    ("adhesive-colour", "brown", "browned brown"), ("gloss", "frosted", "matt matte frosted"),
    ("gloss", "glossy", "glossy shiny"), ("crinkled", "crinkled", "crinkled crinkly"),
    ("loose", "lifts", "lifting peeling loose"), ("oil", "stringy", "stringy"),
    ("water-adhesive", "slimy", "gummed"),
    ("colour", "clear", "clear transparent"), ("colour", "tan", "tan beige buff"),
    ("colour", "white", "white cream"), ("colour", "black", "black"),
    ("colour", "coloured", "blue red green grey gray pink purple violet"),
) for word in words.split()}  # fmt: skip
"""Words for what a tape shows: look and finding."""
OF_STRIP = {"brown": ("colour", "tan"), "paper": ("made-of", "paper"), "foil": ("made-of", "metal")}
"""What these say right before "tape"; elsewhere they are of the adhesive or the sheet. "Brown tape" is brown
of itself, as parcel tape is."""
STRIP = frozenset(("tape", "tapes", "strip", "strips"))
OF_MAKE = OF_STRIP.keys() | {"kraft", "gummed", "crinkled", "stretchy"}
"""What may stand between such a word and its tape."""
OF_ADHESIVE = frozenset((
    "clear", "transparent", "glossy", "shiny", "stain", "stains", "residue", "residues", "gone", "off",
    "missing", "removed", "adhesive",
))  # fmt: skip
"""Beside one of these brown is the adhesive: a strip that is clear, or no longer there, is not brown."""
OF_GLUE = (["adhesive"], ["residue"], ["glue"])
TURNED = frozenset(("yellowed", "yellowing", "browned", "hardened"))
"""Of these, what says too that the tape is no longer fresh."""
TURNS = frozenset(("gone", "turned", "went", "going", "turning"))
"""Behind these a colour is one that came with age."""
AGES = frozenset(("hardness", "tack", "oil", "loose"))
"""Looks that tell how far a glue has aged also where it is known. A colour may be that of its carrier, so it
tells only where it came with age."""
PLACES = _set("""
    back front verso recto reverse behind edge corner fold tear left foot
""")
"""Where on a sheet a thing lies."""
FILLERS = _set("""
    already large small big several one two three four five six each every later narrow wide long short part
    layer i have sort done still
    what do applied about mend upper lower top bottom centre center middle side right mm cm
""")
"""Words that fill no blank and are no object: what is seen goes past them to what it is seen on."""
LINKS = PLACES | FILLERS | _set("""
    a an and but now just between or the of with by to in into at for from over on onto under underneath
    above beside near off it is are has some this that my please lift remove removing take get clean
    stuck old rusty unknown unidentified very dark light slightly badly heavily framed mounted mount
    hinged inside tape strip adhesive stuff colour color spot fragment flap copy file folder sheet page
    leaf document letter map archival architectural herbarium specimen plant poster drawing manuscript
    clipping cutting deed charter certificate article copies book cover spine comic album scrapbook
    diary score broadside atlas binding wall postcard envelope programme pamphlet remnant remain gone
    turned went going turning taped initial flyer leaflet plan chart sketch musical along only art
    pasted mended staple clip rest bit piece down held repaired repair fixed attached across note line text
    writing mark annotation lettering based backed type kind like removed glued all round around lining
    card title bookplate endpaper hymn bible birth marriage music pattern was were been child's
    children's architect's diaries sketches carrier looks seems patch patches collage library catalogue
    brochure booklet paperback taken used use image it's that's we face
    medium here where beneath backside rear removal account telegram jacket paste-up scrap after
""")  # fmt: skip
"""Words that fill no blank and need no answer: what joins, what is done, what objects are called."""


def sign_at(words: Sequence[str], at: int, clause_of: Sequence[int] = ()) -> tuple[str, str] | None:
    """The look and the finding that a word stands for; None if for none."""
    low = [one.casefold() for one in words]
    end = at + 1
    while end < len(low) and (low[end] in OF_MAKE or SIGNS.get(low[end], ("",))[0] == "made-of"):
        end += 1
    strip = low[end : end + 1] != [] and low[end] in STRIP and len(set(clause_of[at : end + 1])) < 2
    if not strip or low[at] not in OF_STRIP or (low[at] == "brown" and not OF_ADHESIVE.isdisjoint(low)):
        look, finding = SIGNS.get(low[at], ("", ""))
        # "White adhesive" is no white strip.
        if look == "colour" and low[at + 1 : at + 2] in OF_GLUE and STRIP.isdisjoint(low[at + 2 : at + 3]):
            look = "adhesive-colour" if finding != "coloured" else ""
            finding = finding if finding in {"clear", "white"} else "brown"
        return (look, finding) if look else None
    return OF_STRIP[low[at]]


def is_link(word: str) -> bool:
    """Whether a word, or one of which it is the plural, needs no answer."""
    return word in LINKS or word.removesuffix("s") in LINKS


def is_noun(word: str) -> bool:
    """Whether names of several words end in it, or in that of which it is the plural."""
    return word.removesuffix("s") in NOUNS or word in OF_TAPE


WHICH = {
    **dict.fromkeys(_set("""
        ink inks print prints printed paint paints pen pens signature signatures autograph autographs
        handwriting handwritten stamp stamps signed inscribed inscription inscriptions addition additions
        coloured colored
    """), "medium"),
    "paper": "paper",
    **dict.fromkeys(("glue", "glues", "hinge", "hinges"), "adhesive"),
}  # fmt: skip
"""Words that name too much, by the blank whose name answers them: ink alone is a medium not named."""
_PENS = frozenset(("writing ink", "writing and drawing ink"))
ANSWERED = {word: groups for words, groups in (
    ("ink inks pen pens", _PENS),
    ("signature signatures autograph autographs handwriting handwritten signed inscribed inscription"
     " inscriptions addition additions", _PENS | {"pencil", "dry media", "dry medium"}),
    ("print prints printed", {"printing ink", "print", "photograph", "office", "reprographic",
                              "coated reprographic"}),
    ("paint paints", {"paint"}),
    # Graphite tells nothing of a colour.
    ("coloured colored", {"paint", "photograph", "coloured-pencil", "watercolour-pencil", "wax-crayon",
                          "pastel-charcoal"}),
    ("stamp stamps", {"stamp-pad", "lithographic", "intaglio"}),
) for word in words.split()}  # fmt: skip
"""Groups of media, and media, that answer such a word: a typescript says nothing of the signature on it."""
GLUE = frozenset(("glue", "glues"))
GLUES = {"animal-glue": "animal glue", "starch-dextrin": "starch paste", "flour-paste": "flour paste",
         "pvac-emulsion": "PVAC"}  # fmt: skip
"""Of a glue that is not named and of which no tape is spoken, what it is usually: an average over tapes had
xylene lead on parchment. Common practice, no source."""
TAKEN = "taken for "
OF_STICKING = frozenset((("tack", "strong"), ("hardness", "soft"), ("oil", "stringy"), ("made-of", "film")))
"""What none of these shows: such a glue is of a tape or a label."""
OR = "or"
"""Between two glues it says that it may be either."""
COLOURS = frozenset(word for word, sign in SIGNS.items() if sign[0] == "colour" and sign[1] != "clear")
"""Ink, mould and leather bear these as often as tape does: of the tape only where it stands next to them."""
HOW = TURNS | _set("""
    and very dark light slightly badly old is are has it the a an or but now just was were been looks
    seems which
""")
"""Between what is seen and that on which it is seen."""
BETWEEN = HOW | FILLERS | SIGNS.keys()
"""What may stand there, more of what is seen among it."""
NOUNS = _set("tape label pencil paper ink photo photograph print cement glue paste seal tissue strip")
"""What names of several words end in."""
BEFORE_WHICH = NOUNS | _set("paint crayon chalk marker pen inkjet gum wax")
"""What a catalogue or another language puts before the word that says which: "pencil, copying"."""
SAME_NOUN = ("glue", "cement", "adhesive")
"""Behind the name of what it is made of these are said for each other."""
HOUSEHOLD = frozenset(("household",))
"""But not behind this: any glue is one of a household."""
OF_TAPE = frozenset((
    "tape", "tapes", "strip", "strips", "adhesive", "adhesives", "stuff", "glue", "glues", "hinge",
    "hinges", "remnants", "remains", "rest", "bits", "taped", "flap", "carrier", "backing", "pieces",
))  # fmt: skip
"""What holds, and what is left of it."""
TAPED = STRIP | {"taped"}
LABELS = frozenset(("label", "labels"))
"""A thing that tape lies on as often as it is stuck on: the tape itself only where no other is spoken of."""
WHERE = _set("""
    over on under from of with at off near beside above in into along across around round by for behind
    this that please remove removing lift left down held stuck attached only all both
""")
"""Words that name nothing on which something could be seen."""
CLOTHS = frozenset(("linen", "canvas", "muslin", "calico"))
"""What a sheet is mounted on or bound in as often as a strip is made of it: alone it is given back."""
STRIPS = frozenset(("tape", "carrier", "adhesive"))
"""Kinds of names for what holds."""
SIGN = "sign"
"""The kind of what is seen, beside the kinds of names."""
JOINS = frozenset((OR, "nor", "and"))
"""Within a denial these go on with it."""
PLAIN = _set("a an any the in of to be trace traces sign signs visible")
"""What may stand between a denying word and a medium or a paper that it denies."""
SLIGHT = ((HOW | FILLERS) - {"and", "or", "but", "old"}) | PLAIN
SLIGHT |= _set("been become became get got quite too so at all much likely made")
"""The same of what is seen, or a glue; and any adverb."""
DEGREE = frozenset(("very", "too", "so", "really", "particularly", "dark", "light"))
"""What may stand before each of a list that is denied; of the rest most affirm: "not sticky, now brittle"."""

# Patterns as text: whoever asks without a typed line need not have them made.
WORD = r"[^\W_]+(?:[-'][^\W_]+)*"
"""Letters of any script, with hyphens and apostrophes within a word."""
_NOT = r"(?:is|was|are|were|does|did|do|has|have|had|ca|could|should|wo|would)n'?t"
DENIED = (
    rf"(?:(no (?:longer|more)|not|never|less(?! than)|hardly|barely|scarcely|cannot|far from|non|{_NOT})"
    r"|no|without|neither|nor|except(?: for)?|excluding|(?:any|every)thing but|(?:other|rather) than"
    r"|instead of|apart from|free (?:of|from)|unlikely)(?= |$)"
    rf"|((?:non|un)-\S+|(?:non|un)(?:{'|'.join(SIGNS)})\b|\S+-free\b)"
)
"""What says the reverse of the words behind it; the second group does so by itself."""
STRONG = r"(?:no|not|without|neither|nor|(?:is|was|are|were)n'?t)$"
"""Of these, what denies a medium or a paper too. The rest affirm one as often: "barely touching the ink"."""
FIRM = frozenset(("no", "without", "neither", "nor"))
"""Of these, what is said of what is there, where "not" may be said of the tape: "no red or blue pencil"."""
UNSURE = (
    r"\b(?:maybe|perhaps|probably|possibly|presumably|apparently|likely|i (?:think|believe)"
    r"|supposedly|presumed|reportedly|allegedly|said to be"
    r"|i(?:'m| am| was) told(?: that)?(?: (?:it|this) is)?"
    r"|(?:i )?suspect(?:ed)?"
    r"|(?:i am |i'm )?(?:unsure|uncertain|not (?:sure|certain|known)|(?:do not|don't) know)"
    r"(?: (?:whether|if))?"
    r"|(?:(?:in|some|a|any) )?doubt(?: that| whether| if)?"
    r"|(?:looks?|seems?|appears?) (?:to be|like)|(?:could|might|may) be)\b"
)
"""Words of doubt."""
_IT = r"(?: (?:it|this|that|they|(?:the )?(?:tape|adhesive|glue|stuff))(?:'s| is| was| are| to be)?)?"
THOUGHT = (
    r"\b(?:(?:(?:i|we) )?do(?:es)?(?: not|n't) (?:think|believe|suppose|expect)|(?:i|we) doubt)"
    rf"(?: that| if| whether)?{_IT}(?= )"
)
"""What one does not think it is is not taken: "I don't think it's rubber"."""
RULED_OUT = (
    r"((?:^|[,;.(]) *)(?!(?:it|this|that|which|they)\b)((?:[\w'-]+ ){1,4}?)"
    r"(?:(?:is |was )?(?:ruled out|out of the question|excluded|unlikely)"
    r"|(?:is|was)(?: not|n't) (?:it|likely|possible))\b(?= *(?:$|[,;.)]| - | – ))"
)
"""The same behind its name."""
ASKED = r"([^\W_]+) ?\?"
"""A name with a question mark behind it is in doubt too, unless the whole line asks."""
ASKS = r"\W*(?:how|what|which|why|can|should)\b"
GENERIC = r"\b(?:sticky|adhesive|self[- ]adhesive|pressure[- ]sensitive(?: adhesive)?|psa)[ -]+(tapes?)\b"
"""A word for such tape and not for what is seen of this one: old tape of the kind no longer sticks."""
_PSA = r"(?:self[- ]adhesive|pressure[- ]sensitive)\b(?: adhesive)?"
BY_ITSELF = (
    rf"\b{_PSA},? ((?:[\w-]+ ){{1,3}})tapes?\b"
    rf"|\b((?:[\w-]+ ){{1,3}})tapes?(?:,| is| which is)? ?\(?{_PSA}\)?(?! \w)"
)
"""A tape of which is said that it sticks without water."""
STICKING = frozenset(("rubber", "acrylic", "silicone"))
"""Groups of adhesives that do, and that a tape may bear in place of its usual one."""
ABROAD = (
    r"\b(?:(?:selbst)?klebeb(?:and|änder)|klebestreifen|klebefilm|rubans? adhésifs?|nastr[oi] adesiv[oi]"
    r"|cintas? adhesivas?)\b"
)
"""The same in other languages: a name of the usual tape in the catalogue, and here of any."""
SURE = (
    r"\b(?:(?:no|without|beyond|hardly|scarcely|little)"
    r"(?: (?:any|a|all|the|least|slightest|much|real|reasonable|serious|trace|of|reason|need|to))* doubts?"
    r"|(?:(?:i|we|you) )?(?:do(?:es)?(?: not|n't)|cannot|can't|never) doubt)\b"
    r"(?: (?:that|about it|at all)\b)?"
)
"""What is not doubted is as it would be without these words."""
_FIGURE = r"\d{1,6}(?:[.,/]\d{1,6})?(?: ?(?:-|to) ?\d{1,6}(?:[.,]\d{1,6})?)?"
_UNIT = r"(?:(?:mm|cm|m|µm|um|microns?|inch(?:es)?|ft|gsm|g/m2|g/m²|gm)\b|%|\"|″)"
MEASURES = (
    r"(?:\b(?:approx(?:imately)?|about|around|circa|ca?)\b\.? )?(?<![\w.])"
    rf"(?:{_FIGURE}(?: ?{_UNIT})? ?[x×] ?){{0,2}}"
    rf"{_FIGURE} ?{_UNIT}(?: (?:wide|long|high|thick|deep|across|square))?|\bph {_FIGURE}"
)
"""How large a strip or a sheet is, of which the answer makes nothing."""
_HUES = "red|blue|green|orange|purple|pink|violet"
SHORT = (
    (r"\bw(?:/c\b|\.c\.)", "watercolour"),
    (r"(?<=[a-z\d] )(?<!and )w(?= [a-z]{3})", "with"),
    (r"\b(?:i\.g\.|ig)(?= inks?\b)", "iron gall"),
    (r"\bw\.?s\.?p\b\.?", "wheat starch paste"),
    (r"\bs/a\b", "self-adhesive"),
    (r"\bself[- ]adhesive (?=(?:[\w-]+ )?(?:labels?|stickers?)\b)", ""),
    (SURE, " "),
    (THOUGHT, "not"),
    # What is denied behind its name is so as before it.
    (r"\b(inks?|media|medium): ?(?:none|nil|no)\b", r"no \1"),
    (RULED_OUT, r"\1not \2"),
    (r"\b(?:(?:i|we)(?:'d|'ve| would| can| have)? )?rul(?:e|ed|ing) out(?= )", "not"),
    # Of a pencil a colour behind it says which, as before it: graphite bars less.
    (
        r"((?:^|[,;:(]|\b(?:over|on|in|under|with|and|or|of|by|no|not|the)\b) *)(pencils?)(?: ?[,:(-] ?)"
        rf"(?:colou?red|(?:{_HUES})(?:(?:,? (?:and|or)|,) (?:{_HUES}|brown|yellow|white|black))+)\b\)?"
        r"(?= *(?:$|[,;.)]))",
        r"\1coloured \2",
    ),
    (r"\bcolou?r(?= pencils?\b)", "coloured"),
    (r"\blaser(?= toner\b)", ""),
    (
        r"\b(?:toner|photocop(?:y|ie)|print)(s?)(?: ?, ?| ?\()(?:colou?r )?laser\b\)?"
        r"(?= *(?:$|[,;.)]))(?!, *\d+ ?nm\b)",
        r"laser print\1",
    ),
    (r"\b(colou?red|colou?ring|tinted) by hand\b", r"hand \1"),
    (r"\b(photo(?:graph)?s?),? \(?(black and white|b/?w)\b\)?", r"\2 \1"),
)
"""Abbreviations, and what other languages say behind the noun, as it is called in the catalogue."""
_SEEN = rf"(?:(?:{'|'.join(DEGREE)}) )?(?:{'|'.join(SIGNS)}|old|aged|fresh|oily)"
NO_TACK = (
    r"\b(?:(?:no|without)(?: any)? (?:tack|stick)"
    r"|(?:(?:no (?:longer|more)|(?:do |does )?not|(?:do|does|is|are)n'?t) |non[- ]?)"
    r"(?:tacky?|sticks?|sticky))\b( n?or\b|(?:(?<= sticky)|(?<= tacky)),"
    rf"(?=(?: {_SEEN},?)+ n?or {_SEEN} *(?:$|[,;.!?]|(?:over|on|under|with) )))?"
)
"""Denied of tack it is one word for what is seen: "not" alone would leave "tacky" to say the opposite. What
"or" joins to it is denied with it, and what stands between."""
OLD = (
    # Behind a comma only what is seen goes on with the tape: "old map, masking tape" is an old map.
    r"(?<!no )(?<!not )(?<!never )(?<!not an )(?<!n't )"
    rf"\bold\b(?=(?:[ ,-]+(?:{'|'.join(SIGNS)})|[ -]+(?!(?:with|on|under|over)\b)\w+){{0,2}}"
    r"[ -]+(?:tape|strip|adhesive|label|sticker|cement)s?\b)"
    # "Sticky tape, old".
    r"|\b(?:tape|strip|adhesive|label|sticker|cement)s?[ ,]+(?:is |are )?"
    r"(?:(?:very +)?old *(?=$|[,;])|(?:(?!not )\w+ ){0,3}(?:\d\d|many|several|ty) ?years old\b"
    r"|(?:(?!not )\w+ )?decades old\b)"
)
"""Old of the tape and not of the sheet that it lies on."""
BOTH = (
    r"\b(both (?:sides|faces)|front and back|recto and verso|(?:two|double)[- ]sided"
    r"(?![ -]+(?:[^\W_]+[ -]+)?(?:tape|foam|adhesive|strip|pad|square)s?\b))"
)
"""Of a tape "double-sided" says how it is made."""
CLAUSES = r"[,;]|[.!?](?=\s|$)"
HARD_TO = (
    rf"(?:\b(?:not|never|no longer|{_NOT}) (?:\w+ ){{0,2}})?\bhard to\b(?: \w+)?"
    r"|\bnot (?:only|just|merely)\b|\blaid(?= (?:on|onto|over|down)\b)"
    r"|\b(?:to wash|wash(?:ed|ing)? (?:off|out|away))\b"
)
"""What is done and says nothing of the tape, and "not" that denies nothing."""
LOST = (
    r"(?<!of the )(?<!half the )(?<!some )(?<!part )\b(?:(tape)|carrier|film)"
    r"(?: (?:has|have|had|is|was|now|already|long|since|been))*"
    r" (?:(?:fallen|fell|come|came|flaked|peeled|dropped|worn|taken|lifted) (?:off|away)\b(?! \w+ly\b)"
    r"|(?<=(?:was|een|ere) )(?:lifted|peeled|removed)(?= (?:with|by)\b)|no longer (?:present|there)\b"
    r"|(?:gone|removed|detached|(?<!tape )(?<!tape is )(?:lost|missing))"
    r"(?= *(?:$|[,;.]|(?:and|but|last|leaving|years|with)\b)))"
)
"""A carrier that is no longer there."""
_THE = r"(?: the| its| this| that)"
LIFTED = (
    rf"(?:(?<!not )\bafter (?:lifting|removing|peeling|taking)(?: off)?{_THE}?"
    rf"|\b(?:lifted|removed|peeled)(?: off)?{_THE}) (?:tape|carrier|film)"
    r"(?= *(?:$|[,;.]|(?:and|but|with|by|using|over|first|already|years|last)\b))"
    r"|(?<!with )\bno (?:tape|carrier|film) (?:left|remains|remaining|any ?more)(?= *(?:$|[,;.]|over\b))"
)
"""The same as what was done to it, or as nothing that is left. A backing is as often that of the sheet."""
COMES_OFF = r"\b(?:falls|falling|coming|comes) off\b"
LIFTING = r"\b(?:lifting|peeling|removing)(?: off)?(?= (?:the|its|this|that)\b)"
"""What one does to a strip says nothing of how it holds."""
PAST = _set("""
    after tried removed lifted peeled swabbed drawn painted written applied cut treated washed tested
""")
"""With a way of work behind them these tell of what was done before, and not of what is asked about."""
TECHNIQUE = _set("""
    drawing drawings painting lettering stroke strokes mark marks line lines pen ink wash crumbs cuts archive
""")
"""Right behind the name of a tool these make it one of the draughtsman, or a trace of it."""
PACKS = frozenset(("poultice", "poultices", "gel", "gels", "pack", "compress"))
BEFORE_TOOL = frozenset(("pen", "ink", "quill", "reed"))
OTHER_STAIN = r"\b(coffee|tea|wine|water|damp|grease|rust|mould|mold|ink|food)[ -]+(stain(?:s|ing|ed)?)\b"
"""No residue of a tape."""
SUPPORT = frozenset(("backed", "lined", "mounted"))
"""Behind the name of a carrier these make it what the sheet lies on, unless a tape is spoken of."""
NO_GLUE = frozenset(("sized", "size", "sizing", "paint", "ink", "print", "bichromate"))
"""Behind the name of a glue these make it part of the paper or of what is on it."""
TREATED = frozenset(
    ("lining", "repair", "repairs", "mend", "mends", "facing", "coated", "fixed", "consolidated")
)
"""Behind the name of a glue or a carrier these make it part of the sheet where a tape is spoken of as well:
without one it is the glue that is asked about."""
OF_THE_SHEET = (
    r"\b((?:[^\W_]+[ -])?[^\W_]+)[ -]+"
    rf"({'|'.join(sorted(NO_GLUE | SUPPORT | TREATED, key=len, reverse=True))})\b"
    r"(?![ -]+(?:tape|strip|label|adhesive|cloth|film|crepe|tissue)s?\b)"
)
DONE = (
    TREATED
    | SUPPORT
    | _set("""
    sized varnished primed glazed impregnated laid glued pasted stuck hung attached repaired mended hinged
    tipped fastened done held faced filled
""")
)
"""With what this was done is of the sheet, unless it was done to the strip."""
FILM_TAPE = r"\b(?:clear|transparent|plastic|glossy|frosted|matte?) (?:(?!paper|cloth|linen)\w+ )?tapes?\b"
HELD = frozenset(("glued", "pasted", "stuck", "attached", "fastened", "held"))
LEADS = _set("on onto over across under holding from to along in at near round around and but covering")
"""What stands behind these is another thing than what stands before."""
OVER, UNDER = (
    frozenset(("over", "on", "onto", "above", "across")),
    ("under", "beneath", "below", "underneath"),
)
HINGES = frozenset(("hinge", "hinges"))
BY, STUCK = frozenset(("with", "by", "using")), TAPED | LABELS | HINGES


def doubts(text: str) -> tuple[str, ...]:
    """Words of doubt in a line, each once."""
    found = re.findall(UNSURE, text, re.IGNORECASE)
    if not re.match(ASKS, text, re.IGNORECASE):
        found += [f"{one}?" for one in re.findall(ASKED, text)]
    return tuple(dict.fromkeys(one.casefold() for one in found))


def measures(text: str) -> list[str]:
    """How large a strip or a sheet is, each figure once."""
    return [*dict.fromkeys(found[0].strip() for found in re.finditer(MEASURES, text, re.IGNORECASE))]


def is_denial(phrase: str) -> bool:
    """Whether words that were not understood say what a thing is not."""
    return re.match(DENIED, phrase, re.IGNORECASE) is not None


def tackless(text: str) -> str:
    """The line with one word for what says that nothing sticks."""
    return re.sub(NO_TACK, lambda found: f"tackless{' not' if found[1] else ''}", text, flags=re.IGNORECASE)


def in_clauses(text: str) -> tuple[list[str], list[int]]:
    """The words of a line, and in which clause each stands."""
    clauses = re.split(CLAUSES, text)
    pairs = [(word, number) for number, clause in enumerate(clauses) for word in re.findall(WORD, clause)]
    return [word for word, _ in pairs], [number for _, number in pairs]
