"""Cuts the chart font out of the variable font: regular weight, Latin, Greek and the signs charts use.

    pip install fonttools brotli fontpkg-inter
    python subset.py "Inter[opsz,wght].ttf" inter-subset

writes inter-subset.ttf (measured and rasterised by the crate) and inter-subset.woff2 (embedded in SVG).
"""
import sys
from fontTools.ttLib import TTFont
from fontTools.varLib import instancer
from fontTools import subset
source, target = sys.argv[1], sys.argv[2]
font = TTFont(source)
font = instancer.instantiateVariableFont(font, {"opsz": 14, "wght": 400})
text = (list(range(0x20, 0x7F)) + list(range(0xA0, 0x180)) +
        [ord(c) for c in "ΑΒΓΔΕΖΗΘΙΚΛΜΝΞΟΠΡΣΤΥΦΧΨΩαβγδεζηθικλμνξοπρςστυφχψωΩµ∆"
         "–—‘’“”…•·−×÷±≤≥≈≠∞√∂∑∏′″‰←→↑↓⁰¹²³⁴⁵⁶⁷⁸⁹⁻₀₁₂₃₄₅₆₇₈₉€‑‒\u2009\u202f"])
options = subset.Options()
options.layout_features = []          # no kerning: a string is as wide as the sum of its advances everywhere
options.hinting = False
options.name_IDs = [0, 1, 2, 3, 4, 5, 6, 13, 14]
options.notdef_outline = True
options.recalc_timestamp = False
cut = subset.Subsetter(options)
cut.populate(unicodes=text)
cut.subset(font)
font.save(target + ".ttf")
font.flavor = "woff2"
font.save(target + ".woff2")
