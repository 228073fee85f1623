"""Polygons and places: exact where exactness is promised, never reaching into unknown ground."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree as ET

import geopandas
import numpy as np
import pytest
import shapely

from linkplan.outputs.kml import NAMESPACE, kml_bytes
from linkplan.outputs.shapes import class_areas, drawn_boundary, places, smoothed
from linkplan.outputs.vectors import write_geojson, write_geopackage, write_places_geojson

KML = {"k": NAMESPACE}


def test_geopackage_puts_every_cell_into_its_class(case: tuple, tmp_path: Path) -> None:
    plan, coverage, summary = case
    path = write_geopackage(plan, coverage, summary, class_areas(coverage), tmp_path / "c.gpkg")
    table = geopandas.read_file(path, layer="coverage")
    grid = coverage.grid
    assert table.crs.to_epsg() == 25832
    rng = np.random.default_rng(3)
    rows, columns = (rng.integers(0, n, 400) for n in grid.shape)
    for row, column in zip(rows, columns, strict=True):
        point = shapely.Point(*grid.frame.to_job(*grid.centre_of(row, column)))
        holders = table.loc[table.geometry.contains(point), "class"].tolist()
        assert holders == [coverage.class_index[row, column]]
    counts = np.bincount(coverage.class_index.ravel(), minlength=6) * grid.cell_size_m**2
    for found in table.itertuples():
        assert found.area_m2 == pytest.approx(counts[found[1]])


def test_geopackage_has_the_places_and_the_boundary(case: tuple, tmp_path: Path) -> None:
    plan, coverage, summary = case
    path = write_geopackage(plan, coverage, summary, class_areas(coverage), tmp_path / "c.gpkg")
    assert set(geopandas.list_layers(path)["name"]) == {"coverage", "gaps", "base", "control", "boundary"}
    gaps = geopandas.read_file(path, layer="gaps")
    assert gaps["number"].tolist() == [gap.number for gap in summary.gaps]
    assert gaps.geometry.x.tolist() == pytest.approx([gap.easting for gap in summary.gaps])
    base = geopandas.read_file(path, layer="base").iloc[0]
    assert (base["name"], base.geometry.x, base.geometry.y) == ("CP-1", plan.base.easting, plan.base.northing)
    control = geopandas.read_file(path, layer="control")
    assert control["name"].tolist() == ["CP-2", "CP & <3>"]
    boundary = geopandas.read_file(path, layer="boundary").geometry.iloc[0]
    assert boundary.equals(plan.boundary)


def test_geopackage_is_the_same_each_time(case: tuple, tmp_path: Path) -> None:
    plan, coverage, summary = case
    areas = class_areas(coverage)
    one = write_geopackage(plan, coverage, summary, areas, tmp_path / "one.gpkg").read_bytes()
    assert write_geopackage(plan, coverage, summary, areas, tmp_path / "two.gpkg").read_bytes() == one


def test_job_without_gaps_or_control_has_the_other_layers(case: tuple, tmp_path: Path) -> None:
    from dataclasses import replace

    plan, coverage, summary = case
    bare, whole = replace(plan, control_points=()), replace(summary, gaps=(), gap_count=0)
    path = write_geopackage(bare, coverage, whole, class_areas(coverage), tmp_path / "c.gpkg")
    assert set(geopandas.list_layers(path)["name"]) == {"coverage", "base", "boundary"}


def test_smoothing_moves_little_and_keeps_clear_of_unknown_ground(case: tuple) -> None:
    _, coverage, _ = case
    cell = coverage.grid.cell_size_m
    exact = class_areas(coverage)
    rounded = smoothed(exact, cell)
    assert [area.index for area in rounded] == [area.index for area in exact]
    known = [area for area in rounded if area.index]
    unknown = next(area for area in rounded if area.index == 0).outline
    for area, before in zip(rounded, exact, strict=True):
        assert area.outline.is_valid
        assert area.outline.hausdorff_distance(before.outline) <= 1.0001 * cell
        assert area.area_m2 == before.area_m2
    for one in known:
        assert one.outline.intersection(unknown).area == pytest.approx(0.0, abs=1e-6)
    # no overlap and no gap: the parts add up to the whole and to their union
    total = sum(area.outline.area for area in rounded)
    assert total == pytest.approx(coverage.grid.height_m.size * cell**2, rel=1e-9)
    assert shapely.union_all([area.outline for area in rounded]).area == pytest.approx(total, rel=1e-9)
    fewer = sum(shapely.get_num_coordinates(area.outline) for area in known)
    assert fewer < 0.7 * sum(shapely.get_num_coordinates(area.outline) for area in exact if area.index)


def test_noisy_classes_smooth_without_overlap(case: tuple) -> None:
    from dataclasses import replace

    _, coverage, _ = case
    rng = np.random.default_rng(8)
    noise = rng.integers(0, 6, coverage.class_index.shape).astype(np.uint8)[:40, :40]
    index = coverage.class_index.copy()
    index[30:70, 30:70] = noise
    rounded = smoothed(class_areas(replace(coverage, class_index=index)), coverage.grid.cell_size_m)
    outlines = [area.outline for area in rounded]
    assert all(outline.is_valid for outline in outlines)
    assert shapely.union_all(outlines).area == pytest.approx(
        sum(outline.area for outline in outlines), rel=1e-9
    )


def test_geojson_is_rfc_7946(case: tuple, tmp_path: Path) -> None:
    """WGS 84 degrees, no crs member, exterior rings counter-clockwise [RFC 7946, sections 4 and 3.1.6]."""
    _, coverage, _ = case
    path = write_geojson(class_areas(coverage), coverage, tmp_path / "c.geojson")
    data = json.loads(path.read_text(encoding="utf-8"))
    assert "crs" not in data
    classes = {feature["properties"]["class"] for feature in data["features"]}
    assert classes == set(np.unique(coverage.class_index))
    for feature in data["features"]:
        geometry = shapely.geometry.shape(feature["geometry"])
        west, south, east, north = geometry.bounds
        assert 9.1 < west < east < 9.3
        assert 46.8 < south < north < 47.0
        for part in getattr(geometry, "geoms", [geometry]):
            assert part.exterior.is_ccw
            assert not any(ring.is_ccw for ring in part.interiors)


def test_places_land_where_they_are(case: tuple, tmp_path: Path) -> None:
    from pyproj import Transformer

    plan, coverage, summary = case
    path = write_places_geojson(plan, coverage, summary, tmp_path / "p.geojson")
    table = geopandas.read_file(path)
    to_degrees = Transformer.from_crs(25832, 4326, always_xy=True)
    base = table[table["kind"] == "base"].iloc[0]
    # a hundred-thousandth of a degree is about a metre; coordinates are kept to a tenth of that
    assert (base.geometry.x, base.geometry.y) == pytest.approx(
        to_degrees.transform(plan.base.easting, plan.base.northing), abs=2e-6
    )
    for gap, found in zip(summary.gaps, table[table["kind"] == "gaps"].itertuples(), strict=True):
        assert (found.geometry.x, found.geometry.y) == pytest.approx(
            (gap.longitude_deg, gap.latitude_deg), abs=2e-6
        )


def test_kml_is_xml_with_closed_rings_and_styles_that_exist(hostile_case: tuple) -> None:
    plan, coverage, summary = hostile_case
    root = ET.fromstring(kml_bytes(plan, coverage, summary, smoothed(class_areas(coverage), 15.0)))
    assert root.findtext("k:Document/k:name", namespaces=KML) == plan.name
    rings = root.findall(".//k:LinearRing/k:coordinates", KML)
    assert len(rings) > 6
    for ring in rings:
        points = (ring.text or "").split()
        assert len(points) >= 4
        assert points[0] == points[-1]
        for point in points:
            longitude, latitude = map(float, point.split(","))
            assert 9.1 < longitude < 9.3
            assert 46.8 < latitude < 47.0
    styles = {f"#{one.get('id')}" for one in root.findall(".//k:Style", KML)}
    used = {one.text for one in root.findall(".//k:styleUrl", KML)}
    assert used <= styles
    assert root.findall(".//k:href", KML) == []  # nothing is fetched from elsewhere


def test_kml_carries_classes_gaps_and_points(hostile_case: tuple) -> None:
    plan, coverage, summary = hostile_case
    root = ET.fromstring(kml_bytes(plan, coverage, summary, class_areas(coverage)))
    names = [mark.findtext("k:name", namespaces=KML) for mark in root.findall(".//k:Placemark", KML)]
    for one in coverage.classes:
        assert f"{one.index} {one.name}" in names
    assert {"no data", "Boundary", "CP-1", "CP-2", "CP & <3>", "Gap 1", "Gap 2"} <= set(names)
    descriptions = [one.text or "" for one in root.findall(".//k:description", KML)]
    assert not any("<script" in text or "<b>" in text for text in descriptions)


def test_kml_colours_are_the_map_s(case: tuple) -> None:
    from linkplan.outputs import style

    plan, coverage, summary = case
    root = ET.fromstring(kml_bytes(plan, coverage, summary, class_areas(coverage)))
    for one in coverage.classes:
        found = root.find(f".//k:Style[@id='class-{one.index}']/k:PolyStyle/k:color", KML)
        assert found is not None
        assert found.text is not None
        blue, green, red = (int(found.text[i : i + 2], 16) for i in (2, 4, 6))
        assert (red, green, blue) == style.class_rgb(one, coverage.classes)


def test_places_leave_out_the_base_among_control(case: tuple) -> None:
    plan, coverage, summary = case
    found = places(plan, coverage.grid, summary)
    assert [place.name for place in found if place.kind == "base"] == ["CP-1"]
    assert [place.name for place in found if place.kind == "control"] == ["CP-2", "CP & <3>"]
    assert (found[0].x_m, found[0].y_m) == pytest.approx((0.0, 0.0), abs=1e-6)


def test_boundary_of_very_many_corners_is_thinned_where_it_is_drawn(case: tuple, tmp_path: Path) -> None:
    """A survey of every pebble: drivers would take minutes; the exact one stays in the GeoPackage."""
    plan, coverage, summary = case
    grid = coverage.grid
    turn = np.linspace(0.0, 2.0 * np.pi, 50_001)[:-1]
    radius = np.random.default_rng(7).uniform(300.0, 303.0, turn.size)
    local = shapely.Polygon(np.column_stack([radius * np.cos(turn), radius * np.sin(turn)]))
    fuzzy = replace(plan, boundary=grid.frame.geometry_to_job(local))
    drawn = drawn_boundary(fuzzy, grid)
    assert shapely.get_num_coordinates(drawn) < 5_000
    assert drawn.is_valid
    assert shapely.hausdorff_distance(drawn, local) <= 0.1 * grid.cell_size_m + 1e-6
    assert drawn_boundary(plan, grid).equals(grid.frame.geometry_to_local(plan.boundary))
    shared = write_places_geojson(fuzzy, coverage, summary, tmp_path / "places.geojson")
    assert shared.stat().st_size < 300_000
    exact = write_geopackage(fuzzy, coverage, summary, class_areas(coverage), tmp_path / "c.gpkg")
    assert geopandas.read_file(exact, layer="boundary").geometry.iloc[0].equals(fuzzy.boundary)


def test_kml_of_names_that_xml_cannot_hold(case: tuple) -> None:
    """XML 1.0, 5th edition, production 2: no control characters, surrogates, U+FFFE or U+FFFF."""
    plan, coverage, summary = case
    strange = "a\x00\x0b\ufffe\uffff\udcff \N{TRACTOR} b"
    points = (replace(plan.control_points[0], name=strange, code="\x01"), *plan.control_points[1:])
    document = kml_bytes(replace(plan, control_points=points), coverage, summary, class_areas(coverage))
    names = [name.text for name in ET.fromstring(document).iterfind(".//k:name", KML)]
    assert "a \N{TRACTOR} b" in names
