"""Checks that need more than one cell: references, CAS check digits, sums, orders, circles, orphans."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from ..errors import Complaint
from .bottle import cas_is_valid
from .schema import Cells, Resource, TypedRows, nearest

TOP_FAMILIES = 18
ONE_FIGURE = ("max", "prohibited")  # kinds of rules of which a substance has one; rules come after tables
# fmt: off
COUNTRIES = frozenset({  # ISO 3166-1, two letters (recalled)
    "AD", "AE", "AF", "AG", "AI", "AL", "AM", "AO", "AQ", "AR", "AS", "AT", "AU", "AW", "AX", "AZ", "BA",
    "BB", "BD", "BE", "BF", "BG", "BH", "BI", "BJ", "BL", "BM", "BN", "BO", "BQ", "BR", "BS", "BT", "BV",
    "BW", "BY", "BZ", "CA", "CC", "CD", "CF", "CG", "CH", "CI", "CK", "CL", "CM", "CN", "CO", "CR", "CU",
    "CV", "CW", "CX", "CY", "CZ", "DE", "DJ", "DK", "DM", "DO", "DZ", "EC", "EE", "EG", "EH", "ER", "ES",
    "ET", "FI", "FJ", "FK", "FM", "FO", "FR", "GA", "GB", "GD", "GE", "GF", "GG", "GH", "GI", "GL", "GM",
    "GN", "GP", "GQ", "GR", "GS", "GT", "GU", "GW", "GY", "HK", "HM", "HN", "HR", "HT", "HU", "ID", "IE",
    "IL", "IM", "IN", "IO", "IQ", "IR", "IS", "IT", "JE", "JM", "JO", "JP", "KE", "KG", "KH", "KI", "KM",
    "KN", "KP", "KR", "KW", "KY", "KZ", "LA", "LB", "LC", "LI", "LK", "LR", "LS", "LT", "LU", "LV", "LY",
    "MA", "MC", "MD", "ME", "MF", "MG", "MH", "MK", "ML", "MM", "MN", "MO", "MP", "MQ", "MR", "MS", "MT",
    "MU", "MV", "MW", "MX", "MY", "MZ", "NA", "NC", "NE", "NF", "NG", "NI", "NL", "NO", "NP", "NR", "NU",
    "NZ", "OM", "PA", "PE", "PF", "PG", "PH", "PK", "PL", "PM", "PN", "PR", "PS", "PT", "PW", "PY", "QA",
    "RE", "RO", "RS", "RU", "RW", "SA", "SB", "SC", "SD", "SE", "SG", "SH", "SI", "SJ", "SK", "SL", "SM",
    "SN", "SO", "SR", "SS", "ST", "SV", "SX", "SY", "SZ", "TC", "TD", "TF", "TG", "TH", "TJ", "TK", "TL",
    "TM", "TN", "TO", "TR", "TT", "TV", "TW", "TZ", "UA", "UG", "UM", "US", "UY", "UZ", "VA", "VC", "VE",
    "VG", "VI", "VN", "VU", "WF", "WS", "YE", "YT", "ZA", "ZM", "ZW",
})
# fmt: on
SIGNED = {"log_p", "boiling_point_c", "dose_response_c"}  # properties that may be below zero


def check_references(package: Mapping[str, Resource], rows: TypedRows) -> list[Complaint]:
    """Every complaint about typed ``rows`` (table -> key -> cells) as a whole."""
    complaints: list[Complaint] = []
    for resource in package.values():
        complaints.extend(_foreign_keys(resource, rows))
    complaints.extend(_materials(rows))
    complaints.extend(_constituents(rows))
    complaints.extend(_trees(rows["descriptors"].values()))
    complaints.extend(_groups(rows))
    complaints.extend(_limits(rows))
    complaints.extend(_limit_sets(rows))
    complaints.extend(
        _at(row, "stand_in", f"'{row['missing']}' cannot stand in for itself")
        for row in rows["swaps"].values()
        if row["missing"] == row["stand_in"]
    )
    return complaints


def _at(row: Cells, column: str, message: str) -> Complaint:
    source = row.get("_row")
    return Complaint(source.file if source else "tables", source.number if source else None, column, message)


def _foreign_keys(resource: Resource, rows: TypedRows) -> Iterable[Complaint]:
    for column, table, there in resource.foreign_keys:
        allowed = {row[there] for row in rows[table].values()}
        for row in rows[resource.name].values():
            if row[column] and row[column] not in allowed:
                yield _at(
                    row,
                    column,
                    f"'{row[column]}' is not a known {there} of {table}.csv{nearest(row[column], allowed)}",
                )


def _materials(rows: TypedRows) -> Iterable[Complaint]:
    below = {row["id"] for row in rows["descriptors"].values() if row["parent"]}
    families = {row["id"] for row in rows["descriptors"].values() if not row["parent"]}
    ids = {key[0] for key in rows["materials"]}
    for row in rows["materials"].values():
        for cas in filter(None, row["cas"].split(";")):
            if not cas_is_valid(cas):
                yield _at(row, "cas", f"'{cas}' fails its check digit; read it on the bottle once more")
        if row["family"] in below:  # what is no word at all is told as a reference
            yield _at(row, "family", f"'{row['family']}' is not a family{nearest(row['family'], families)}")
        for name in filter(None, row["assessed"].split(";")):
            if name != "all" and name.strip() not in ids:
                yield _at(row, "assessed", f"'{name}' is not a known material{nearest(name, ids)}")
    for row in rows["properties"].values():
        if row["property"] not in SIGNED and row["value"] < 0:
            yield _at(row, "value", f"{row['value']:g} is out of range: {row['property']} is 0 or more")


def _constituents(rows: TypedRows) -> Iterable[Complaint]:
    kinds = {key[0]: row["kind"] for key, row in rows["materials"].items()}
    sums: dict[str, float] = {}
    mixed = {
        row["natural"] for row in rows["constituents"].values() if row.get("_own")
    }  # a lot's figures beside our general ones
    for row in rows["constituents"].values():
        low, typical, high = row["low_pct"], row["typical_pct"], row["high_pct"]
        if low is not None and low > typical:
            yield _at(row, "low_pct", f"{low:g} is above typical_pct {typical:g}")
        if high is not None and high < typical:
            yield _at(row, "high_pct", f"{high:g} is under typical_pct {typical:g}")
        if row["natural"] == row["constituent"]:
            yield _at(row, "constituent", f"'{row['natural']}' cannot contain itself")
        if kinds.get(row["constituent"]) == "natural":
            yield _at(row, "constituent", f"'{row['constituent']}' is a natural; a constituent is a molecule")
        if row["natural"] in mixed and not row.get("_own"):
            continue
        sums[row["natural"]] = sums.get(row["natural"], 0.0) + typical
        if sums[row["natural"]] > 100.0 + 1e-9:
            yield _at(
                row,
                "typical_pct",
                f"the typical shares of '{row['natural']}' sum to {sums[row['natural']]:g}, over 100",
            )
            sums[row["natural"]] = float("-inf")


def _trees(descriptors: Collection[Cells]) -> Iterable[Complaint]:
    parents = {row["id"]: row["parent"] for row in descriptors}
    for row in descriptors:
        seen, here = {row["id"]}, row["parent"]
        while here:
            if here in seen:
                yield _at(row, "parent", f"'{row['id']}' is its own ancestor; the words must form a tree")
                break
            seen.add(here)
            here = parents.get(here, "")
    families = [name for name, parent in parents.items() if not parent]
    if len(families) > TOP_FAMILIES:
        yield Complaint(
            "descriptors.csv", None, "parent", f"{len(families)} families; at most {TOP_FAMILIES}"
        )


def _groups(rows: TypedRows) -> Iterable[Complaint]:
    materials = {key[0] for key in rows["materials"]}
    members: dict[str, list[str]] = {}
    for row in rows["groups"].values():
        members.setdefault(row["group"], []).append(row["material"])
    for row in rows["groups"].values():
        if row["group"] in materials:
            yield _at(row, "group", f"'{row['group']}' is a material's id; a group needs one of its own")
        if row["material"] not in materials and row["material"] not in members:
            yield _at(
                row,
                "material",
                f"'{row['material']}' is neither a material nor a group{nearest(row['material'], materials)}",
            )

    def reaches(here: str, goal: str, seen: set[str]) -> bool:
        for member in members.get(here, ()):
            if member == goal:
                return True
            if member not in seen:
                seen.add(member)
                if reaches(member, goal, seen):
                    return True
        return False

    for row in rows["groups"].values():
        if row["material"] in members and (
            row["material"] == row["group"] or reaches(row["material"], row["group"], set())
        ):
            yield _at(row, "material", f"the group '{row['group']}' contains itself")


def _is_market(text: str, known: set[str]) -> bool:
    """A market on file, a country's code, or a word of one's own that is no slip of either."""
    if text in known or text in COUNTRIES:
        return True
    return (
        len(text) > 2
        and not nearest(text, known)
        and text.casefold() not in {one.casefold() for one in known}
    )


def _limit_sets(rows: TypedRows) -> Iterable[Complaint]:
    """A person's own sets: of a market that answers can be asked for, and with something to say."""
    markets = {"worldwide"} | {
        row["market"]
        for table in ("limit_sets", "controls")
        for row in rows[table].values()
        if not row.get("_own")
    }
    used = {row["limit_set"] for row in rows["limits"].values()}
    for row in rows["limit_sets"].values():
        if row.get("_own") and not _is_market(row["market"], markets):
            near = nearest(row["market"], markets)
            allowed = ", ".join(sorted(markets))
            told = f"one of {allowed}, a country's two letters, or a word of your own{near}"
            yield _at(row, "market", f"'{row['market']}' is not a known market: {told}")
        if row["id"] not in used and row.get("_own"):
            yield _at(row, "id", f"no row of limits.csv names the set '{row['id']}': it judges nothing")


def _limits(rows: TypedRows) -> Iterable[Complaint]:
    known = {key[0] for key in rows["materials"]} | {row["group"] for row in rows["groups"].values()}
    categories: dict[str, set[str]] = {}
    for row in rows["products"].values():
        categories.setdefault(row["limit_set"], set()).add(row["category"])
    plain: dict[tuple[str, str, str], Cells] = {}
    for row in rows["limits"].values():
        if row["substance"] not in known:
            yield _at(
                row,
                "substance",
                f"'{row['substance']}' is neither a material nor a group{nearest(row['substance'], known)}",
            )
        allowed = categories.get(row["limit_set"])
        if allowed and row["category"] != "all" and row["category"] not in allowed:
            yield _at(
                row,
                "category",
                f"'{row['category']}' is no category of {row['limit_set']} in products.csv: "
                f"one of all, {', '.join(sorted(allowed))}",
            )
        if row["rule"] in ONE_FIGURE:
            key = row["limit_set"], row["substance"], row["category"]
            if key in plain and plain[key]["max_pct"] != row["max_pct"]:
                yield _at(
                    row,
                    "max_pct",
                    f"two figures for {', '.join(key)}: rules {plain[key]['rule']} and {row['rule']}",
                )
            plain[key] = row
