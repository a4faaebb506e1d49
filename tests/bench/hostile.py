"""Values, attributes, elements and heads that no honest recipe or drawing holds."""

from __future__ import annotations

NUMBERS = (
    "0", "-0", "-0.0", "1", "-1", "2", "3", "50", "1e308", "-1e308", "1e-12", "1e-320", "1e400", "nan", "NaN", ".nan",
    "inf", ".inf", "-inf", "9" * 30, "9" * 400, "0.1", "1e5", "1e9", "0x10", "0o17", "1_000", "1:30", "1,5", "12 in",
    "3/4 in", "1/0", "5 deg", "2 m", "0.0049", "180", "360", "89.9999", "90", "4294967296", "-2147483649", "٣", "½",
)  # fmt: skip
WORDS = (
    "", "null", "true", "~", "[]", "{}", '""', '"x"', "x", "body", "front", "back", "through", "auto", "+y", "both",
    "[1, 2]", "[[0, 0], [1, 1]]", "{a: 1}", "a b", "../x", "<b>&", "'=1+1'", '"\\u202e\\u0000"', "con", "&a x", "*a",
    "!!python/object:os.system x", "!x y", "<<", "?", "- x", "|", "@", "`", "%", "2001-01-01", "é", "e\\u0301",
    "all", "x" * 65, "y" * 5000, "[" * 30 + "]" * 30, "grain", "no such thing", "on", "No", "=cmd|' /C calc'!A0",
)  # fmt: skip
SUMS = (
    "2**9999", "9**9**9**9", "(" * 400 + "1" + ")" * 400, "1" + "+1" * 2000, "a.b", "__import__('os')", "sqrt(-1)",
    "1/0", "-" * 500 + "1", "sin(1e308)", "1e308*10", "[0]*10", "w", "lambda: 1", "1 if 1 else 2", "min()", "tan(90)",
)  # fmt: skip
PATHS = (
    "../../../../etc/passwd", "/etc/passwd", "~/x.svg", "..\\x.svg", "", ".", "..", "a/../../x.svg", "con", "x\\0.svg",
    "/dev/zero", "/dev/stdin", "/proc/self/mem", "file:///etc/passwd", "//host/share/x.svg", "C:/x.svg", "link.svg",
    "./././d.svg", "n" * 300 + ".svg", "out/x.svg", "secret.svg", "loop.svg", "pipe.svg",
)  # fmt: skip
LINKS = ("../secret.svg", "/etc/passwd", "link.svg", "loop.svg", "/dev/zero", "..", ".", "nowhere")
ATTRIBUTES = (
    ' transform="scale(0)"', ' transform="matrix(1 0 0 0 0 0)"', ' transform="rotate(1e308)"', ' transform="skewX(90)"',
    ' transform="scale(-1 1)"', ' style="display:none"', ' style="stroke:url(#a);fill:inherit"', ' d=""', ' points="1"',
    ' viewBox="0 0 0 0"', ' viewBox="0 0 1e-300 1e300"', ' width="1e9mm"', ' width="0"', ' height="-5"', ' r="0"',
    ' width="100%"', ' preserveAspectRatio="none"', ' clip-path="url(#body)"', ' href="#body"', ' rx="1e9"', ' id=""',
    ' fill="#000"', ' fill-rule="evenodd"', ' stroke-width="1e6"', ' style="' + "a:b;" * 2000 + '"', ' class="x y z"',
    ' transform="' + "translate(1)" * 3000 + '"', ' d="M0 0' + "l1 1" * 5000 + '"', ' d="M 0,0 A 1e-9 1e9 45 1 1 5,5 Z"',
)  # fmt: skip
ELEMENTS = (
    '<use href="#body"/>', '<g id="loop"><use href="#loop"/></g>', "<g>" * 150 + "</g>" * 150, "<g>" * 300 + "</g>" * 300,
    '<image href="file:///etc/passwd" width="9" height="9"/>', "<script>1</script>", "<text>x</text>", "<!-- -->",
    '<style>* {fill: red; d: path("M0 0")} @import url(http://x/y);</style>', '<symbol id="s"><rect width="9"/></symbol>',
    '<circle id="body" cx="1" cy="1" r="1"/>', '<path id="p" d="M 0,0 C 1e300,0 0,1e300 5,5 Z"/>', "<foreignObject/>",
    '<svg x="5" y="5" width="10" height="10" viewBox="0 0 1 1"><rect width="1" height="1"/></svg>', "&lol;", "<![CDATA[x]]>",
    '<polygon points="' + " ".join(f"{k * 7919 % 1000},{k * 104729 % 1000}" for k in range(400)) + '"/>',
    "".join(f'<rect x="{k}" width="2" height="2"/>' for k in range(1500)), '<clipPath id="c"><use href="#c"/></clipPath>',
)  # fmt: skip
HEADS = (
    '<!DOCTYPE svg [<!ENTITY a "x"><!ENTITY b "&a;&a;&a;&a;">]>',
    "<!DOCTYPE svg ["
    + "".join(f'<!ENTITY l{k + 1} "{f"&l{k};" * 10}">' for k in range(9))
    + ']><!-- -->',
    '<!DOCTYPE svg SYSTEM "file:///etc/passwd">',
    '<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]>',
    '<!DOCTYPE svg [<!ENTITY % p SYSTEM "http://localhost/x"> %p;]>',
    '<?xml version="1.0" encoding="cp037"?>',
    '<?xml version="1.1" encoding="utf-16"?>',
    "<?php 1?>",
)  # fmt: skip
