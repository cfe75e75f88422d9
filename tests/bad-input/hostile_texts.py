"""Sixty texts that mean harm to whatever takes them for its own language."""

TERMINAL = ["\x1b[31mred", "\x1b]0;title\x07", "\x1b[2J\x1b[H", "\x1bP1$r0m\x1b\\", "\x9b31m", "bell\x07",
            "back\x08\x08\x08\x08ok", "line\rforged: fine", "line\nforged: fine", "\x0eshift\x0f", "\x7f\x7f",
            "\u202egpj.exe", "\u2066isolate", "\u200bzero", "\u2028line", "e\u0301" * 30]
FORMULAS = ["=cmd|'/c calc'!A1", "+1+1", "-2+3", "@SUM(1)", "\t=1+1", "=HYPERLINK(\"http://x.invalid\")",
            "a\",=1+1,\"", "a,b;c\td", "\"quoted\"", "'", "\"", "=1+1\r\n=2"]
MARKUP = ["<script>window.harmed=1</script>", "<img src=x onerror=window.harmed=1>",
          "\"><script>window.harmed=1</script>", "' onmouseover='window.harmed=1", "</title><script>"
          "window.harmed=1</script>", "</style><style>*{background:url(http://x.invalid)}</style>",
          "<svg onload=window.harmed=1>", "<!--", "-->", "<![CDATA[", "]]>", "&lt;script&gt;", "&#x3c;b&#x3e;",
          "<!DOCTYPE a [<!ENTITY b SYSTEM \"file:///etc/passwd\">]>&b;", "javascript:window.harmed=1",
          "<iframe src=http://x.invalid>", "<b>bold</b>", "<a href=http://x.invalid>go</a>",
          "</script><script>window.harmed=1</script>"]
OTHERS = ["\\", "\\u0000", "\\n\\x41", "{\"solved\": true}", "], \"solved\": true, [", "%s%n%n%n", "%00",
          "$(touch harmed)", "`touch harmed`", ";touch harmed;", "|touch harmed", "../../etc/passwd",
          ") Tj (harm", "A" * 200]

ALL = TERMINAL[:15] + FORMULAS + MARKUP + OTHERS
assert len(ALL) == 60, len(ALL)
