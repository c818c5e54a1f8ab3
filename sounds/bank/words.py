# ruff: noqa: RUF001 - phonetic characters look like other letters

"""What the built-in voice can say: each text with its phonemes.

They are those of General American English in the characters that the speech model was trained on:
the International Phonetic Alphabet, with capital letters for diphthongs (A as in day, I as in eye,
O as in go, W as in how, Y as in boy), T for the tap in "thirty", and the stress mark before the
vowel.
"""

from typing import Final

from throwcount.engine.numbers import TENS, spoken
from throwcount.engine.patterns.pattern import HIGHEST_VALUE

DIGITS: Final = {
    "zero": "zˈɪɹO",
    "one": "wˈʌn",
    "two": "tˈu",
    "three": "θɹˈi",
    "four": "fˈɔɹ",
    "five": "fˈIv",
    "six": "sˈɪks",
    "seven": "sˈɛvən",
    "eight": "ˈAt",
    "nine": "nˈaɪn",
}
"""The open a of "nine" tells it from "five" when both are short."""

NUMBERS: Final = {
    "ten": "tˈɛn",
    "eleven": "ɪlˈɛvən",
    "twelve": "twˈɛlv",
    "thirteen": "θˌɜɹtˈin",
    "fourteen": "fˌɔɹtˈin",
    "fifteen": "fˌɪftˈin",
    "sixteen": "sˌɪkstˈin",
    "seventeen": "sˌɛvəntˈin",
    "eighteen": "ˌAtˈin",
    "nineteen": "nˌaɪntˈin",
    "twenty": "twˈɛnti",
    "thirty": "θˈɜɹTi",
    "forty": "fˈɔɹɾi",
    "fifty": "fˈɪfti",
    "sixty": "sˈɪksti",
    "seventy": "sˈɛvənti",
    "eighty": "ˈATi",
    "ninety": "nˈaɪnti",
    "hundred": "hˈʌndɹəd",
    "thousand": "θˈWzənd",
}

HUNDREDS: Final = {
    f"{digit} hundred": f"{DIGITS[digit]} {NUMBERS['hundred']}" for digit in tuple(DIGITS)[1:]
}
"""One to nine hundred, each said in one breath."""

LETTERS: Final = {
    "a": "ˈA",
    "b": "bˈi",
    "c": "sˈi",
    "d": "dˈi",
    "e": "ˈi",
    "f": "ˈɛf",
    "g": "ʤˈi",
    "h": "ˈAʧ",
    "i": "ˈI",
    "j": "ʤˈA",
    "k": "kˈA",
    "l": "ˈɛl",
    "m": "ˈɛm",
    "n": "ˈɛn",
    "o": "ˈO",
    "p": "pˈi",
    "q": "kjˈu",
    "r": "ˈɑɹ",
    "s": "ˈɛs",
    "t": "tˈi",
    "u": "jˈu",
    "v": "vˈi",
    "w": "dˈʌbəljˌu",
    "x": "ˈɛks",
    "y": "wˈI",
    "z": "zˈi",
}

SPELLING: Final = {
    "alfa": "ˈælfə",
    "bravo": "bɹˈɑvO",
    "charlie": "ʧˈɑɹli",
    "delta": "dˈɛltə",
    "echo": "ˈɛkO",
    "foxtrot": "fˈɑkstɹˌɑt",
    "golf": "ɡˈɑlf",
    "hotel": "hOtˈɛl",
    "india": "ˈɪndiə",
    "juliett": "ʤˌuliˈɛt",
    "kilo": "kˈilO",
    "lima": "lˈimə",
    "mike": "mˈIk",
    "november": "nOvˈɛmbəɹ",
    "oscar": "ˈɔskəɹ",
    "papa": "pˈɑpə",
    "quebec": "kəbˈɛk",
    "romeo": "ɹˈOmiO",
    "sierra": "siˈɛɹə",
    "tango": "tˈæŋɡO",
    "uniform": "jˈunəfˌɔɹm",
    "victor": "vˈɪktəɹ",
    "whiskey": "wˈɪski",
    "x ray": "ˈɛksɹˌA",
    "yankee": "jˈæŋki",
    "zulu": "zˈulu",
}
"""The words for the letters of the spelling alphabet of ITU and ICAO, spelled as there."""

HANDS: Final = {
    "right": "ɹˈIt",
    "left": "lˈɛft",
    "both": "bˈOθ",
}

CALLS: Final = {
    "double": "dˈʌbəl",
    "triple": "tɹˈɪpəl",
    "hold": "hˈOld",
    "empty": "ˈɛmpti",
    "cross": "kɹˈɔs",
    "crossing": "kɹˈɔsɪŋ",
    "go": "ɡˈO",
    "and": "ˈænd",
    "ready": "ɹˈɛdi",
    "stop": "stˈɑp",
    "last one": "lˈæst wˈʌn",
    "next": "nˈɛkst",
    "again": "əɡˈɛn",
    "flash": "flˈæʃ",
    "qualified": "kwˈɑləfˌId",
    "catch": "kˈæʧ",
    "drop": "dɹˈɑp",
    "clean": "klˈin",
    "up": "ˈʌp",
    "down": "dˈWn",
    "half": "hˈæf",
    "switch": "swˈɪʧ",
    "now": "nˈW",
    "high": "hˈI",
    "low": "lˈO",
    "single": "sˈɪŋɡəl",
    "box": "bˈɑks",
    "split": "splˈɪt",
    "turn": "tˈɜɹn",
    "pirouette": "pˌɪɹuˈɛt",
    "together": "təɡˈɛðəɹ",
    "wait": "wˈAt",
    "hurry": "hˈɜɹi",
    "take": "tˈAk",
    "give": "ɡˈɪv",
    "pass": "pˈæs",
    "self": "sˈɛlf",
}
"""Other words that may fall on a beat."""

MANNERS: Final = {
    "around": "əɹˈWnd",
    "arm": "ˈɑɹm",
    "back": "bˈæk",
    "behind": "bəhˈInd",
    "bounce": "bˈWns",
    "clap": "klˈæp",
    "elbow": "ˈɛlbO",
    "flat": "flˈæt",
    "head": "hˈɛd",
    "inside": "ɪnsˈId",
    "leg": "lˈɛɡ",
    "neck": "nˈɛk",
    "outside": "ˈWtsId",
    "over": "ˈOvəɹ",
    "overhead": "ˌOvəɹhˈɛd",
    "reverse": "ɹəvˈɜɹs",
    "shoulder": "ʃˈOldəɹ",
    "through": "θɹˈu",
    "under": "ˈʌndəɹ",
}
"""How a single throw is made, besides words of `CALLS` such as "high" and "turn".

Stressed on its end, "outside" sounds like "inside".
"""

PHRASES: Final = {
    "again from the top": "əɡˈɛn fɹʌm ðə tˈɑp",
    "at": "ˈæt",
    "attempt": "ətˈɛmpt",
    "attempts": "ətˈɛmpts",
    "beat": "bˈit",
    "beats": "bˈits",
    "beats a minute": "bˈits ə mˈɪnət",
    "behind the back": "bəhˈInd ðə bˈæk",
    "best": "bˈɛst",
    "breathe": "bɹˈið",
    "bridge": "bɹˈɪʤ",
    "by": "bˈI",
    "cascade": "kæskˈAd",
    "catches": "kˈæʧəz",
    "change": "ʧˈAnʤ",
    "columns": "kˈɑləmz",
    "cycle": "sˈIkəl",
    "cycles": "sˈIkəlz",
    "done": "dˈʌn",
    "eighth": "ˈAtθ",
    "every": "ˈɛvɹi",
    "fast": "fˈæst",
    "faster": "fˈæstəɹ",
    "fifth": "fˈɪfθ",
    "first": "fˈɜɹst",
    "for": "fˈɔɹ",
    "fountain": "fˈWntən",
    "fourth": "fˈɔɹθ",
    "from": "fɹˈʌm",
    "from the top": "fɹʌm ðə tˈɑp",
    "front": "fɹˈʌnt",
    "get ready": "ɡɛt ɹˈɛdi",
    "halfway": "hˈæfwˌA",
    "hand": "hˈænd",
    "hands": "hˈændz",
    "height": "hˈIt",
    "in": "ˈɪn",
    "last": "lˈæst",
    "left hand first": "lˈɛft hˈænd fˈɜɹst",
    "level": "lˈɛvəl",
    "long": "lˈɔŋ",
    "meters": "mˈiTəɹz",
    "minute": "mˈɪnət",
    "minutes": "mˈɪnəts",
    "more": "mˈɔɹ",
    "new": "nˈu",
    "new pattern": "nˈu pˈæTəɹn",
    "ninth": "nˈaɪnθ",
    "object": "ˈɑbʤɛkt",
    "objects": "ˈɑbʤɛkts",
    "of": "ˈʌv",
    "once more": "wˈʌns mˈɔɹ",
    "one more": "wˈʌn mˈɔɹ",
    "other": "ˈʌðəɹ",
    "over the shoulder": "ˈOvəɹ ðə ʃˈOldəɹ",
    "over the top": "ˈOvəɹ ðə tˈɑp",
    "part": "pˈɑɹt",
    "passage": "pˈæsɪʤ",
    "pattern": "pˈæTəɹn",
    "pause": "pˈɔz",
    "personal best": "pˈɜɹsənəl bˈɛst",
    "pick up": "pˈɪk ˈʌp",
    "point": "pˈYnt",
    "put down": "pˈʊt dˈWn",
    "rest": "ɹˈɛst",
    "resume": "ɹəzˈum",
    "right hand first": "ɹˈIt hˈænd fˈɜɹst",
    "round": "ɹˈWnd",
    "same again": "sˈAm əɡˈɛn",
    "second": "sˈɛkənd",
    "seconds": "sˈɛkəndz",
    "set": "sˈɛt",
    "set complete": "sˈɛt kəmplˈit",
    "seventh": "sˈɛvənθ",
    "short": "ʃˈɔɹt",
    "shower": "ʃˈWəɹ",
    "sixth": "sˈɪksθ",
    "slow": "slˈO",
    "slower": "slˈOəɹ",
    "start": "stˈɑɹt",
    "steady": "stˈɛdi",
    "step": "stˈɛp",
    "take a break": "tˈAk ə bɹˈAk",
    "tempo": "tˈɛmpO",
    "tenth": "tˈɛnθ",
    "the": "ðə",
    "the end": "ðɪ ˈɛnd",
    "third": "θˈɜɹd",
    "throw": "θɹˈO",
    "throws": "θɹˈOz",
    "time": "tˈIm",
    "to": "tˈu",
    "to go": "tə ɡˈO",
    "try": "tɹˈI",
    "under the leg": "ˈʌndəɹ ðə lˈɛɡ",
    "way": "wˈA",
    "well done": "wˈɛl dˈʌn",
    "with": "wˈɪð",
}
"""Said between runs or during rests, or of a throw that has the time."""

BELOW_HUNDRED: Final = {
    f"{ten} {digit}": f"{NUMBERS[ten]} {DIGITS[digit]}"
    for ten in TENS
    for digit in tuple(DIGITS)[1:]
}
"""Twenty-one to ninety-nine without the tens, each said in one breath."""

THROW_VALUES: Final = {
    text: phonemes
    for text, phonemes in BELOW_HUNDRED.items()
    if text in map(spoken, range(HIGHEST_VALUE + 1))
}
"""Those of them that are throw values."""

ON_BEATS: Final = (
    DIGITS | HANDS | NUMBERS | HUNDREDS | THROW_VALUES | LETTERS | SPELLING | CALLS | MANNERS
)
"""All that may fall on a beat."""

_OPENINGS: Final = (
    *("right", "left", "double", "triple", "next", "tempo", "pattern", "pick up", "rest"),
    *("set", "attempt", "round", "level", "part", "step", "best"),
    *("under", "behind", "over", "the"),
)

CONTINUED: Final = (
    DIGITS
    | NUMBERS
    | HUNDREDS
    | {text: (HANDS | CALLS | MANNERS | PHRASES)[text] for text in _OPENINGS}
)
"""Words after which a phrase often goes on; also recorded as they sound then."""
