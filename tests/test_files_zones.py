"""State plane zones by name: every row of a published table, units by factor, and what is left open."""

import pytest

from fieldgeo.errors import CrsError
from fieldgeo.frame import parse_crs
from fieldgeo.zones import described, unit_of, zone_systems

# Published: EPSG geodetic parameter dataset, IOGP, v11.022: codes in NAD83 metres, NAD83 feet, NAD83(2011) metres,
# NAD83(2011) feet, and the foot of the zone.
TABLE = [
    ("Illinois East", 26971, 3435, 6454, 6455, "US"),
    ("Illinois West", 26972, 3436, 6456, 6457, "US"),
    ("Indiana East", 26973, 2965, 6458, 6459, "US"),
    ("Indiana West", 26974, 2966, 6460, 6461, "US"),
    ("Iowa North", 26975, 3417, 6462, 6463, "US"),
    ("Iowa South", 26976, 3418, 6464, 6465, "US"),
    ("Kansas North", 26977, 3419, 6466, 6467, "US"),
    ("Kansas South", 26978, 3420, 6468, 6469, "US"),
    ("Kentucky North", 2205, 2246, 6470, 6471, "US"),
    ("Kentucky South", 26980, 2247, 6474, 6475, "US"),
    ("Kentucky Single Zone", 3088, 3089, 6472, 6473, "US"),
    ("Michigan North", 26988, 2251, 6495, 6496, "international"),
    ("Michigan Central", 26989, 2252, 6493, 6494, "international"),
    ("Michigan South", 26990, 2253, 6498, 6499, "international"),
    ("Minnesota North", 26991, 26849, 6502, 6503, "US"),
    ("Minnesota Central", 26992, 26850, 6500, 6501, "US"),
    ("Minnesota South", 26993, 26851, 6504, 6505, "US"),
    ("Missouri East", 26996, None, 6512, None, ""),
    ("Missouri Central", 26997, None, 6511, None, ""),
    ("Missouri West", 26998, None, 6513, None, ""),
    ("Nebraska", 32104, 26852, 6516, 6880, "US"),
    ("North Dakota North", 32120, 2265, 6544, 6545, "international"),
    ("North Dakota South", 32121, 2266, 6546, 6547, "international"),
    ("Ohio North", 32122, 3734, 6548, 6549, "US"),
    ("Ohio South", 32123, 3735, 6550, 6551, "US"),
    ("South Dakota North", 32134, 4457, 6571, 6572, "US"),
    ("South Dakota South", 32135, 3455, 6573, 6574, "US"),
    ("Tennessee", 32136, 2274, 6575, 6576, "US"),
    ("Wisconsin North", 32152, 2287, 6606, 6607, "US"),
    ("Wisconsin Central", 32153, 2288, 6879, 6605, "US"),
    ("Wisconsin South", 32154, 2289, 6608, 6609, "US"),
]


@pytest.mark.parametrize(("zone", "m", "ft", "m_2011", "ft_2011", "foot"), TABLE, ids=[row[0] for row in TABLE])
def test_every_zone_of_the_table_published_epsg_v11(zone, m, ft, m_2011, ft_2011, foot):
    for datum, metres, feet in (("", m, ft), ("NAD83(2011) / ", m_2011, ft_2011)):
        expected = [code for code in (metres, feet) if code is not None]
        assert [system.to_epsg() for system in zone_systems(f"{datum}{zone}")] == expected
        assert parse_crs(f"{datum}{zone} metres").to_epsg() == metres
        if feet is None:
            assert parse_crs(f"{datum}{zone}").to_epsg() == metres
            with pytest.raises(CrsError, match="names no known system"):
                parse_crs(f"{datum}{zone} ft")
        else:
            system = parse_crs(f"{datum}{zone} feet")
            assert system.to_epsg() == feet
            assert unit_of(system).startswith(foot)
            factor = 0.3048 if foot == "international" else 1200 / 3937
            assert system.axis_info[0].unit_conversion_factor == pytest.approx(factor, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("iowa north FTUS", 3417),
        ("Iowa North (ftUS)", 3417),
        ("Iowa North US survey feet", 3417),
        ("State Plane Ohio North zone, feet", 3734),
        ("NAD83 / Illinois East (ftUS)", 3435),
        ("nad_1983 Illinois East m", 26971),
        ("NAD83 2011 Illinois East ftUS", 6455),
        ("NAD83(HARN) / Illinois East (ftUS)", 3443),
        ("NAD27 Iowa North", 26775),
        ("Michigan South international feet", 2253),
        ("Utah North feet", 2280),  # the dataset has it in both feet: plain feet are the international ones
        ("Utah North ftUS", 3560),
        ("EPSG:26915", 26915),
        ("WGS 84", 4326),
    ],
)
def test_ways_to_write_a_system(text, code):
    assert parse_crs(text).to_epsg() == code


def test_zone_without_its_unit_is_asked_for():
    with pytest.raises(CrsError) as caught:
        parse_crs("Illinois East")
    message = str(caught.value)
    assert "EPSG:26971 (NAD83 / Illinois East, in metres)" in message
    assert "EPSG:3435 (NAD83 / Illinois East (ftUS), in US survey feet)" in message


@pytest.mark.parametrize(
    "text", ["Michigan South ftUS", "Illinois Middle", "East", "", "zone", "ftUS", "\x00", "x" * 999]
)
def test_what_is_no_zone_is_refused(text):
    assert zone_systems(text) == ()
    with pytest.raises(CrsError, match="names no known system"):
        parse_crs(text)


def test_units_are_told_by_their_factor():
    assert unit_of(parse_crs("EPSG:4326")) == "degrees"
    # Derived: a zone whose unit is called a survey foot and is the international one.
    text = parse_crs("EPSG:3435").to_wkt().replace("0.304800609601219", "0.3048")
    assert unit_of(parse_crs(text)) == "international feet"
    assert "survey" in described(parse_crs("EPSG:3435"))
