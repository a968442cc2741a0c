"""The same job as a plain script would do it: read with geopandas, buffer, overlay, draw with folium.

Usage: naive.py SITE.geojson RULES.json OUT check|find
Its tables are the same files as the command's: CSV, XLSX and JSON.
It knows no uncertainty, no proof, no way out of what fails, and nothing of what was not looked at.
"""

import json
import sys
from pathlib import Path

import geopandas as gpd
import pandas as pd


def read(path):
    """Features in the metres of the local UTM zone."""
    features = gpd.read_file(path)
    return features.to_crs(features.estimate_utm_crs())


def check(features, rules, out):
    """Which standing pits lie within a zone they must keep out of, and how far each is from what a rule names."""
    tables = []
    for rule in rules:
        others = features[features["kind"].isin(rule["from"])][["kind", "name", "geometry"]]
        pits = features[features["kind"].isin(rule["for"])][["kind", "name", "geometry"]].copy()
        pits["geometry"] = pits.buffer(0.75)
        zones = others.copy()
        zones["geometry"] = zones.buffer(rule["at_least_m"])
        struck = gpd.overlay(pits, zones, how="intersection", keep_geom_type=False)
        near = gpd.sjoin_nearest(pits, others, distance_col="distance_m", lsuffix="pit", rsuffix="feature")
        near["rule"], near["required_m"] = rule["id"], rule["at_least_m"]
        near["result"] = near["name_pit"].isin(struck["name_1"]).map({True: "fails", False: "meets"})
        tables.append(near.drop(columns="geometry"))
    table = pd.concat(tables)
    table.to_csv(out / "table.csv", index=False)
    table.to_excel(out / "table.xlsx", index=False, engine="xlsxwriter")
    table.to_json(out / "table.json", orient="records")


def ground(features, rules, kind):
    """What is left of the plot once every zone is taken from it."""
    left = features[features["kind"] == "boundary"][["geometry"]]
    for rule in rules:
        if kind in rule["for"]:
            zones = features[features["kind"].isin(rule["from"])][["geometry"]].copy()
            zones["geometry"] = zones.buffer(rule["at_least_m"] + 0.73)
            left = gpd.overlay(left, zones, how="difference")
    return left


def draw(features, left, out):
    """A map of everything, coloured by kind."""
    import folium

    world, free = features.to_crs(4326), left.to_crs(4326)
    middle = world.total_bounds
    page = folium.Map([(middle[1] + middle[3]) / 2, (middle[0] + middle[2]) / 2], zoom_start=17)
    folium.GeoJson(free, name="free").add_to(page)
    for kind, group in world.groupby("kind"):
        layer = folium.FeatureGroup(name=kind)
        folium.GeoJson(group, tooltip=folium.GeoJsonTooltip(["kind", "name"])).add_to(layer)
        layer.add_to(page)
    folium.LayerControl().add_to(page)
    page.save(str(out / "map.html"))


def main():
    """Check, and with `find` also draw the ground that is left."""
    site, rules, out, what = sys.argv[1:]
    folder = Path(out)
    folder.mkdir(parents=True, exist_ok=True)
    features = read(site)
    limits = json.loads(Path(rules).read_text())
    check(features, limits, folder)
    if what == "find":
        left = ground(features, limits, "placenta pit")
        best = pd.Series(left.explode().representative_point())
        best.to_csv(folder / "places.csv")
        draw(features, left, folder)


if __name__ == "__main__":
    main()
