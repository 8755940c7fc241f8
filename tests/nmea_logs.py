"""Random logs with every kind of fault, for comparing the reader with the oracle and for fuzzing."""

from __future__ import annotations

import datetime as dt

from nmea_texts import clock, ddmm, sentence


def random_log(rng, seconds=60):
    """A log of one to three talkers; true dates, and faults in plenty."""
    talkers = rng.sample(["GP", "GN", "IN", "II", "EC", "X"], rng.choice([1, 1, 2, 3]))
    types = {talker: rng.sample(["RMC", "GGA", "GNS", "GLL"], rng.randint(1, 4)) for talker in talkers}
    when = dt.datetime.fromisoformat(
        f"2026-{rng.randint(1, 12):02d}-28T{rng.choice(['00', '12', '23'])}:59:30"
    )
    when += dt.timedelta(milliseconds=rng.choice([0, 250, 500]))
    faults = rng.choice([0.0, 0.02, 0.2])
    lat, lon = rng.uniform(-80, 80), rng.uniform(-179, 179)
    lines = []
    for _ in range(seconds):
        when += dt.timedelta(seconds=rng.choice([1, 1, 1, 1, 10, 400]) if rng.random() < 0.1 else 1)
        lat += rng.uniform(-1e-4, 1e-4)
        for talker in talkers:
            moment = when + dt.timedelta(milliseconds=70 * talkers.index(talker))
            said = [_position(rng, kind, talker, moment, lat, lon, faults) for kind in types[talker]]
            said += [
                _other(rng, kind, talker, moment, faults)
                for kind in ("VTG", "ZDA", "HDT", "DPT", "DBT", "TXT", "VDM")
                if rng.random() < 0.2
            ]
            if rng.random() < 0.3:
                rng.shuffle(said)
            lines += [_damaged(rng, text, faults) for text in said]
    ends = rng.choice(["\r\n", "\n"])
    return "".join(line + (ends if rng.random() > faults / 4 else "") for line in lines)


def _field(rng, text, faults):
    """A field as it is, or made worse."""
    if rng.random() >= faults / 3:
        return text
    return rng.choice(
        ["", " " + text, text + " ", text.lower(), "9" * 7, "x", text[1:], text + "5", "-" + text]
    )


def _position(rng, kind, talker, when, lat, lon, faults):
    places = rng.choice([2, 4, 4, 4, 8])
    if rng.random() < faults / 10:
        lat = lon = 0.0
    where = [ddmm(lat, 2, places), "N" if lat >= 0 else "S", ddmm(lon, 3, places), "E" if lon >= 0 else "W"]
    status = "A" if rng.random() > faults / 3 else rng.choice(["V", "", "a"])
    mode = rng.choice(["A", "D", "", "R"]) if rng.random() > faults / 3 else rng.choice("NEMSX")
    if kind == "RMC":
        date = when.strftime("%d%m%y")
        fields = [clock(when), status, *where, "3.4", "120.5", date, "", "", mode][: rng.choice([11, 12, 12])]
    elif kind == "GGA":
        quality = rng.choice("1245") if rng.random() > faults / 3 else rng.choice("0678x")
        fields = [clock(when), *where, quality, "09", "0.9", "12.3", "M", "48.1", "M", "", ""]
    elif kind == "GNS":
        modes = rng.choice(["AA", "DN", "R"]) if rng.random() > faults / 3 else rng.choice(["NN", "EN", ""])
        fields = [clock(when), *where, modes, "12", "0.8", "12.3", "48.1", "", ""]
    else:
        fields = [*where, clock(when), status, mode][: rng.choice([4, 6, 7, 7, 7])]
    # Dates that are wrong by themselves are another matter: here all that stand agree.
    kept = {8} if kind == "RMC" else set()
    fields = [text if i in kept else _field(rng, text, faults) for i, text in enumerate(fields)]
    return f"{talker}{kind},{','.join(fields)}"


def _other(rng, kind, talker, when, faults):
    if kind == "ZDA":
        return f"{talker}ZDA,{clock(when)},{when.day:02d},{when.month:02d},{when.year},00,00"
    if kind == "VDM":
        return "!AIVDM,1,1,,A,13aEOK?P00PD2wVMdLDRhgvL289?,0"
    fields = {
        "VTG": [
            "120.9",
            "T",
            "",
            "M",
            f"{rng.uniform(0, 9):.1f}",
            "N",
            "0.8",
            "K",
            rng.choice(["A", "N", ""]),
        ],
        "HDT": [f"{rng.uniform(0, 360):.1f}", "T"],
        "DPT": [f"{rng.uniform(0, 99):.1f}", rng.choice(["0.4", "-0.4", "", "+1.0"])],
        "DBT": ["7.7", "f", f"{rng.uniform(0, 99):.1f}", "M", "1.3", "F"],
        "TXT": ["01", "01", "02", "hello"],
    }[kind]
    address = rng.choice([talker, "HE", "SD"]) if kind != "VTG" else talker
    return f"{address}{kind},{','.join(_field(rng, text, faults) for text in fields)}"


def _damaged(rng, body, faults):
    """A sentence as a line holds it: with what stands before it, and sometimes broken."""
    text = sentence(body, end="") if body[0] != "!" else sentence(body[1:], mark="!", end="")
    roll = rng.random()
    if roll < faults / 20:
        text = text[: rng.randrange(len(text))]
    elif roll < faults / 10:
        at = rng.randrange(len(text))
        text = text[:at] + chr(rng.randrange(1, 256)) + text[at + 1 :]
    elif roll < faults / 7:
        text = text[:-3]
    elif roll < faults / 4:
        text = rng.choice(["2026-03-01T06:10:00Z\t", "12345 ", "\0\0\0", "$", "x*y ", "\x80\xff"]) + text
    return text
