"""`setout.dxf`: the pegs as a drawing in metres, for an instrument or an office."""

import io

from siting.outputs.setout import Card


def dxf(card: Card) -> bytes | None:
    """Pegs, rim, enclosure and tie points in metres, on the site's grid where it has one; None without the extra [dxf].

    Each on a layer of its own, outlines as closed polylines, a round pit as a circle.
    """
    try:
        from ezdxf import filemanagement
        from ezdxf._options import options
        from ezdxf.enums import TextEntityAlignment
    except ImportError:
        return None
    places = dict(zip((p.name for p in card.out.pegs), card.grid_xy or [p.xy for p in card.out.pegs], strict=True))
    before = options.write_fixed_meta_data_for_testing
    # Else the hour and a new identifier go into every file: the same input has to give the same bytes.
    options.write_fixed_meta_data_for_testing = True
    try:
        drawing = filemanagement.new("R2010", units=6)
        for layer in ("PEGS", "PIT", "ENCLOSURE", "TEXT"):
            drawing.layers.add(layer)
        space = drawing.modelspace()
        for name, (x, y) in places.items():
            space.add_point((x, y), dxfattribs={"layer": "PEGS"})
            space.add_text(name, height=0.25, dxfattribs={"layer": "TEXT"}).set_placement(
                (x + 0.1, y + 0.1), align=TextEntityAlignment.LEFT
            )
        rim = [place for name, place in places.items() if name.startswith("R")]
        corners = [place for name, place in places.items() if name.startswith("E")]
        pit = card.placed.installation.pit
        if pit.is_disc:
            space.add_circle(places["P"], pit.radius_m, dxfattribs={"layer": "PIT"})
        else:
            space.add_lwpolyline(rim, close=True, dxfattribs={"layer": "PIT"})
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "ENCLOSURE"})
        text = io.StringIO()
        drawing.write(text)
    finally:
        options.write_fixed_meta_data_for_testing = before
    return text.getvalue().encode("utf-8")
