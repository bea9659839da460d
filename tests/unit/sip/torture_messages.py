"""One message for each case of RFC 4475, written for this project: the same defect, other words, addresses and numbers.

Names are those of the RFC's sections. Addresses are those of RFC 5737 and RFC 2606.
"""

SDP = b"v=0\r\no=- 7 7 IN IP4 192.0.2.40\r\ns=-\r\nc=IN IP4 192.0.2.40\r\nt=0 0\r\nm=audio 40000 RTP/AVP 8 101\r\n"

_USUAL = {
    "Via": "SIP/2.0/UDP 192.0.2.40:5060;branch=z9hG4bKdoor1",
    "Max-Forwards": "70",
    "To": "<sip:205@door.example>",
    "From": "<sip:entrance@door.example>;tag=e1",
    "Call-ID": "one@192.0.2.40",
}


def says(start: str, *lines: str, body: bytes = b"", **changed: str | None) -> bytes:
    """A message: the usual headers, changed or (None) left out, then these lines as they stand, then the body."""
    told = {
        **_USUAL,
        "CSeq": f"1 {start.split(' ', maxsplit=1)[0]}",
        **{name.replace("_", "-"): text for name, text in changed.items()},
    }
    if not any(line.split(":")[0].strip().lower() in {"content-length", "l"} for line in lines):
        told.setdefault("Content-Length", str(len(body)))
    if body:
        told.setdefault("Content-Type", "application/sdp")
    head = [start, *(f"{name}: {text}" for name, text in told.items() if text is not None), *lines]
    return "\r\n".join(head).encode("utf-8", "surrogateescape") + b"\r\n\r\n" + body


_CALL = "INVITE sip:205@door.example SIP/2.0"
_ASK = "OPTIONS sip:205@door.example SIP/2.0"
_BIND = "REGISTER sip:door.example SIP/2.0"
_HERE = "Contact: <sip:entrance@192.0.2.40>"

_WSINV = (
    b"INVITE sip:205@door.example;unheard-of SIP/2.0\r\n"
    b"tO\t:\r\n <sip:205@door.example>\r\n\t;  tag  =\r\n  77\r\n"
    b'F : "Gate \\\\ \\"north\\"" \t <sip:gate@door.example>\r\n ; tag = g1\r\n'
    b"mAx-fOrWaRdS: 0070\r\n"
    b"i: fold@192.0.2.40\r\n"
    b"CSEQ: 00012\r\n  INVITE\r\n"
    b"V : SIP  / 2.0\r\n / UDP 192.0.2.40 ; branch = plain\r\n"
    b"via: SIP / 2.0 / TCP  desk.door.example ; branch = z9hG4bKa ,\r\n SIP/2.0/UDP 192.0.2.41;branch=z9hG4bKb\r\n"
    b"s:\r\n"
    b"Unheard-Of: ;,;,;;\r\n  and more\r\n"
    b'm: "A, B" <sip:gate@192.0.2.40> ; new = one ; q = 0.5\r\n'
    b"Route: <sip:way.door.example;lr;odd=x>\r\n"
    b"c: application/sdp\r\n"
    b"l  : " + str(len(SDP)).encode() + b"\r\n\r\n" + SDP
)
_ODD_METHOD = "Ring-the_bell!%20.`~'*+"
_ODD_USER = "9_the.bell~(maybe!)&isn't+it$/so?,/;;*"

MESSAGES: dict[str, bytes] = {
    "wsinv": _WSINV,
    "intmeth": says(
        f"{_ODD_METHOD} sip:{_ODD_USER}:&pass=1,$@door.example SIP/2.0",
        "odd-!.%*+_`'~: \ufeffΘύρα",
        To=f'"bell \\\x07 nul \\\x00 del \\\x7f" <sip:{_ODD_USER}@door.example>',
        From="one~` two' <sip:gate@door.example>;odd'~+*_!.-%=\"дверь\";tag=_t~'+`*%!-.",
        Call_ID="odd%-!.*_+'@word`~)(><:\\/\"][?}{",
    ),
    "esc01": says(
        "INVITE sip:sips%3Agate%40door.example@desk.example SIP/2.0",
        "Contact:\r\n  <sip:gat%65@192.0.2.40;%6C%72;na%6De=v%25%34%31>",
        To="sip:%67at%65@door.example",
        From="<sip:with%20a%20space@door.example>;tag=e1",
        body=SDP,
    ),
    "escnull": says(
        _BIND,
        "Contact: <sip:%00@192.0.2.40>",
        "Contact: <sip:%00%00@192.0.2.40>",
        To="sip:nul-%00-nul@door.example",
        From="sip:nul-%00-nul@door.example;tag=n",
    ),
    "esc02": says(
        "INVI%54E sip:205@door.example SIP/2.0",
        "C%6Fntact: <sip:hidden@192.0.2.40>",
        _HERE,
        To='"%41" <sip:205@door.example>',
    ),
    "lwsdisp": says(_ASK, From="gate<sip:gate@door.example>;tag=9"),
    "longreq": says(
        _CALL,
        *(f"{'vV'[n % 2]}{' ' * (n % 3)}: SIP/2.0/TCP hop{n}.door.example" for n in range(40)),
        f"Very-{'Long' * 30}-Name: {'long' * 60}; {'longer' * 60}={'longest' * 60}",
        f"Contact: <sip:{'gate' * 60}@192.0.2.40>",
        To=f'"A {"very" * 50} long name"<sip:205@door.example:6000;odd={"long" * 40};{"name" * 40}=v>',
        From=f"sip:{'gate' * 60}@door.example;tag={'12' * 100}",
        Call_ID="really" * 40,
        body=SDP,
    ),
    "dblreq": says(_BIND, "Contact: sip:205@192.0.2.41")
    + b"\r\n\r\n"
    + says(_CALL, _HERE, Call_ID="two@192.0.2.40", body=SDP),
    "semiuri": says(
        "OPTIONS sip:205;floor=2%40north@door.example SIP/2.0", "Accept: application/sdp,\r\n   text/plain"
    ),
    "transports": says(
        _ASK,
        *(
            f"Via: SIP/2.0/{name} {name.lower()}.door.example;branch=z9hG4bK{name}"
            for name in ("SCTP", "TLS", "PIGEON", "TCP")
        ),
    ),
    "mpart01": says(
        "MESSAGE sip:205@door.example SIP/2.0",
        "Content-Type: multipart/mixed;boundary=cut",
        body=b"--cut\r\nContent-Type: text/plain\r\n\r\nOpen\r\n--cut\r\nContent-Type: application/octet-stream\r\n\r\n"
        + bytes(range(256))
        + b"\r\n--cut--\r\n",
        Content_Type=None,
    ),
    "unreason": says(
        "SIP/2.0 200 = 2**3 * 5**2 дверь открыта", _HERE, CSeq="7 INVITE", To="<sip:205@door.example>;tag=t", body=SDP
    ),
    "noreason": says("SIP/2.0 100 ", CSeq="7 INVITE"),
    "badinv01": says(_CALL, 'Contact: "Gate" <sip:gate@door.example>;;;', Via="SIP/2.0/UDP 192.0.2.40;;,;,,", body=SDP),
    "clerr": says(_CALL, _HERE, "Content-Length: 9999", body=SDP),
    "ncl": says(_CALL, _HERE, "Content-Length: -999", body=SDP),
    "scalar02": says(
        _BIND,
        "Contact: <sip:205@192.0.2.41>\r\n ;expires=999999999999999",
        f"Expires: 1{'0' * 100}",
        CSeq="36893488147419103233 REGISTER",
        Max_Forwards="300",
    ),
    "scalarlg": says(
        "SIP/2.0 503 Later",
        "Retry-After: 999999999999999999999999",
        'Warning: 1812 door "closing"',
        CSeq="9999999999999999999999 OPTIONS",
    ),
    "quotbal": says(_CALL, _HERE, To='"The gate <sip:205@door.example>', body=SDP),
    "ltgtruri": says("INVITE <sip:205@door.example> SIP/2.0", _HERE, body=SDP),
    "lwsruri": says("INVITE sip:205@door.example; lr SIP/2.0", _HERE, body=SDP),
    "lwsstart": says("INVITE  sip:205@door.example  SIP/2.0", _HERE, body=SDP),
    "trws": says("OPTIONS sip:205@door.example SIP/2.0  "),
    "escruri": says("INVITE sip:205@door.example?Route=%3Csip:door.example%3E SIP/2.0", _HERE, body=SDP),
    "baddate": says(_CALL, _HERE, "Date: Mon, 05 May 2031 09:00:00 CET", body=SDP),
    "regbadct": says(_BIND, "Contact: sip:205@door.example?Route=%3Csip:way.door.example%3E"),
    "badaspec": says(_ASK, To='"Gate, north" < sip:205@door.example >'),
    "baddn": says(_ASK, From="Gate, north <sip:gate@door.example>;tag=4"),
    "badvers": says("OPTIONS sip:205@door.example SIP/7.0", Via="SIP/7.0/UDP 192.0.2.40;branch=z9hG4bKx"),
    "mismatch01": says(_ASK, CSeq="8 INVITE"),
    "mismatch02": says("RINGOUT sip:205@door.example SIP/2.0", _HERE, CSeq="8 INVITE", body=SDP),
    "bigcode": says("SIP/2.0 4294967301 far too much", CSeq="8 INVITE"),
    "badbranch": says(_ASK, Via="SIP/2.0/UDP 192.0.2.40;branch=z9hG4bK"),
    "insuf": says(_CALL, body=SDP, To=None, From=None, Call_ID=None, Max_Forwards=None),
    "unkscm": says("OPTIONS bellpull:somewhere SIP/2.0"),
    "novelsc": says("OPTIONS soap.beep://192.0.2.40:3002 SIP/2.0"),
    "unksm2": says(_BIND, "Contact: <name:Gate>", To="isbn:2983792873", From="<http://door.example>;tag=3"),
    "bext01": says(_ASK, "Require: noneOfOurs, norThis", "Proxy-Require: noneOfTheirs"),
    "invut": says(_CALL, _HERE, body=b"<audio>\r\n</audio>\r\n", Content_Type="application/unheard-of"),
    "regaut01": says(_BIND, "Authorization: Handshake secret=none"),
    "multi01": says(
        _CALL,
        "CSeq: 59 INVITE",
        "Call-ID: another@192.0.2.40",
        "To: sip:206@door.example",
        "From: sip:gate@door.example;tag=2",
        "Max-Forwards: 5",
        body=SDP,
    ),
    "mcl01": says(
        _ASK,
        "Content-Length: 13",
        "Content-Length: 5",
        "Content-Type: text/plain",
        body=b"Nobody can say how long this is.",
        Content_Type=None,
    ),
    "bcast": says(
        "SIP/2.0 200 OK", "Via: SIP/2.0/UDP 255.255.255.255;branch=z9hG4bKall", _HERE, CSeq="7 INVITE", body=SDP
    ),
    "zeromf": says(_ASK, Max_Forwards="0"),
    "cparam01": says(_BIND, "Contact: sip:+15555550100@192.0.2.41;unheard-of"),
    "cparam02": says(_BIND, "Contact: <sip:+15555550100@192.0.2.41;unheard-of>"),
    "regescrt": says(_BIND, "M: <sip:205@192.0.2.41?Route=%3Csip:way.door.example%3E>"),
    "sdp01": says(_CALL, _HERE, "Accept: text/unheard-of", body=SDP),
    "inv2543": says(
        _CALL,
        Via="SIP/2.0/UDP 192.0.2.40",
        From="<sip:gate@door.example>",
        Max_Forwards=None,
        Content_Length=None,
        body=SDP,
    ),
}
